"""Forms of one's own sign-in, of people and of invitations."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import capfirst, format_lazy
from django.utils.translation import gettext, gettext_lazy, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from farmbuild.access.cards import DAYS, MAX_DAYS
from farmbuild.access.people import ROLE_WORDS
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.common.speaking import said
from farmbuild.orgs.acts import Act
from farmbuild.orgs.forms import PASSWORD_HELP
from farmbuild.orgs.models import Language, Organisation, Units, User


def _roles() -> list[tuple[str, str]]:
    return [(role.value, f"{role.label}: {said(words)}") for role, words in ROLE_WORDS.items()]


_DAYS = format_lazy(_("Type how many days it lasts, from 1 to {most}."), most=MAX_DAYS)


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
        label=_("Code"),
        help_text=_("Six figures from the app, or a code from your paper."),
        error_messages={"required": _("Type the code that the app shows now.")},
    )


class FirstCodeForm(CodeForm):
    """Of an app that has just taken the square code."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["code"].help_text = gettext("Six figures; the app shows new ones every half minute.")


class SurePasswordForm(forms.Form):
    """The password once more, before anything that makes a sign-in weaker."""

    password = forms.CharField(
        label=_("Password"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text=_("A phone that was left lying changes nothing without it."),
        error_messages={"required": _("Type the password that you sign in with.")},
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_password(self) -> str:
        if not self.user.check_password(self.cleaned_data["password"]):
            raise forms.ValidationError(gettext("This is not the password that you sign in with now."))
        return self.cleaned_data["password"]


class OwnForm(forms.ModelForm):
    """Who somebody is, and how they read pages."""

    groups = [(gettext_lazy("How you read"), ["language", "units", "large_letters"])]

    class Meta:
        model = User
        fields = ["first_name", "email", "language", "units", "large_letters"]
        labels = {
            "first_name": gettext_lazy("Your name"),
            "email": gettext_lazy("E-mail"),
            "language": gettext_lazy("Language"),
            "units": gettext_lazy("Units"),
            "large_letters": gettext_lazy("Large letters"),
        }
        help_texts = {
            "first_name": gettext_lazy("As others read it beside what you recorded."),
            "email": gettext_lazy("For a link to a new password, where this server sends e-mail."),
            "language": gettext_lazy("What is not put into it yet stays English."),
            "units": gettext_lazy("Of lengths that you read and type. Files and orders keep the organisation's."),
            "large_letters": gettext_lazy("All words half as large again, on this and every other screen."),
        }
        error_messages = {
            "email": {"invalid": gettext_lazy("Type an e-mail address such as ida@example.org, or leave it empty.")}
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"].choices = [("", gettext("As the organisation, else as the browser")), *Language.choices]
        self.fields["units"].choices = [("", gettext("As the organisation")), *Units.choices]


class WeeklyForm(forms.Form):
    organisations = forms.ModelMultipleChoiceField(
        queryset=Organisation.objects.none(),
        label=_("Send me the week of"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("What the next week asks, as its page and its sheet on paper say it."),
        error_messages=dict.fromkeys(
            ("invalid_choice", "invalid_pk_value"), _("Choose among the organisations that you belong to.")
        ),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = Organisation.objects.filter(memberships__user=user)
        self.fields["organisations"].queryset = rows.order_by("name", "pk")


class ForgottenForm(forms.Form):
    name = forms.CharField(
        label=_("Name or e-mail address"),
        max_length=254,
        help_text=_("What you sign in with, or the address that stands with your sign-in."),
        error_messages={"required": _("Type the name that you sign in with, or your e-mail address.")},
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )


class InvitationCodeForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_("Eight signs, as on the card. Small letters are fine."),
        error_messages={"required": _("Type the code of the card.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )


class JoinForm(forms.Form):
    """Of somebody who has no sign-in yet."""

    name = forms.CharField(
        label=_("Your name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={"required": _("Type your name.")},
    )
    username = forms.CharField(
        label=_("Name to sign in with"),
        max_length=150,
        help_text=_("One word, for example your first name."),
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
        error_messages={"required": _("Type the name that you will sign in with.")},
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        help_text=PASSWORD_HELP,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": _("Type a password.")},
    )


class InviteForm(OrgForm):
    name = forms.CharField(
        label=_("Who"),
        max_length=150,
        help_text=_("So that you know the invitation again."),
        error_messages={"required": _("Type for whom it is.")},
    )
    role = forms.ChoiceField(
        label=_("Role"),
        choices=_roles,
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose what they may do here.")},
    )
    email = forms.EmailField(
        label=_("E-mail"),
        required=False,
        help_text=_("The link goes there too. Without one you hand it over."),
        error_messages={"invalid": _("Type an e-mail address such as ida@example.org, or leave it empty.")},
    )
    days = WholeFormField(
        label=_("Days that it lasts"),
        initial=DAYS,
        min_value=1,
        max_value=MAX_DAYS,
        error_messages={
            "required": _("Type how many days it lasts."),
            "invalid": _DAYS,
            "min_value": _DAYS,
            "max_value": _DAYS,
        },
    )

    def __init__(self, *args: Any, by_mail: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not by_mail:
            del self.fields["email"]


class RoleForm(OrgForm):
    role = forms.ChoiceField(
        label=_("Role"),
        choices=_roles,
        widget=forms.RadioSelect,
        help_text=_("Another role begins anew: what was taken away or added before is gone."),
        error_messages={"required": _("Choose what they may do here.")},
    )
    send_limit = DecimalFormField(
        label=_("Limit of sending"),
        required=False,
        min_value=0,
        max_digits=15,
        decimal_places=3,
        error_messages={
            "invalid": _("Type an amount such as 500, or leave it empty for no limit."),
            "min_value": _("Type 0 or more, or leave it empty for no limit."),
            "max_digits": _("Type a smaller amount."),
            "max_whole_digits": _("Type a smaller amount."),
            "max_decimal_places": _("Type at most three figures after the decimal sign."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["send_limit"].help_text = gettext(
            "In %(currency)s, with tax and delivery. Orders above it wait for a second person. Empty: no limit."
        ) % {"currency": self.organisation.currency}


class ActsForm(OrgForm):
    acts = forms.MultipleChoiceField(
        label=pgettext_lazy("allowed to", "May"),
        required=False,
        choices=lambda: [(act.value, capfirst(said(act.words))) for act in Act],
        widget=forms.CheckboxSelectMultiple,
        help_text=_("The role begins with some of these; take away or add for this person."),
    )
