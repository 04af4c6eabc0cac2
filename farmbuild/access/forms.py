"""Forms of one's own sign-in."""

from __future__ import annotations

from typing import Any

from django import forms

from farmbuild.orgs.models import User


def _code_field(**kwargs: Any) -> forms.CharField:
    return forms.CharField(
        max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        **kwargs,
    )


class CodeForm(forms.Form):
    """The code of the second step."""

    code = _code_field(
        label="Code",
        help_text="Six figures from the app, or a code from your paper.",
        error_messages={"required": "Type the code that the app shows now."},
    )


class FirstCodeForm(CodeForm):
    """Of an app that has just taken the square code."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["code"].help_text = "Six figures; the app shows new ones every half minute."


class SurePasswordForm(forms.Form):
    """The password once more, before anything that makes a sign-in weaker."""

    password = forms.CharField(
        label="Password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text="A phone that was left lying changes nothing without it.",
        error_messages={"required": "Type the password that you sign in with."},
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_password(self) -> str:
        if not self.user.check_password(self.cleaned_data["password"]):
            raise forms.ValidationError("This is not the password that you sign in with now.")
        return self.cleaned_data["password"]


class OwnNameForm(forms.ModelForm):
    class Meta:
        model = User
        fields = ["first_name", "email"]
        labels = {"first_name": "Your name", "email": "E-mail"}
        help_texts = {
            "first_name": "As others read it beside what you recorded.",
            "email": "For a link to a new password, where this server sends e-mail.",
        }
        error_messages = {"email": {"invalid": "Type an e-mail address such as ida@example.org, or leave it empty."}}
