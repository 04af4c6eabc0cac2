"""Forms of tokens and webhooks."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_lazy

from farmbuild.api.models import Token
from farmbuild.api.scopes import ACTS, WORDS, Scope
from farmbuild.api.tokens import DAYS, MAX_DAYS
from farmbuild.api.webhooks.hosts import LONGEST
from farmbuild.api.webhooks.selectors import tokens_to_choose
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.orgs.acts import Act


class TokenForm(OrgForm):
    name = forms.CharField(
        label=gettext_lazy("Program"),
        max_length=60,
        help_text=gettext_lazy("What you call it, for example greenhouse clock."),
    )
    scopes = forms.MultipleChoiceField(
        label=gettext_lazy("It may"),
        widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("Only what you may do yourself, and only for as long as you may."),
        error_messages={"required": gettext_lazy("Tick what the program may do.")},
    )
    days = WholeFormField(label=gettext_lazy("Lasts, days"), initial=DAYS, min_value=1, max_value=MAX_DAYS)

    def __init__(self, *args: Any, acts: frozenset[Act], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scopes"].choices = [
            (scope.value, capfirst(str(WORDS[scope]))) for scope, act in ACTS.items() if act in acts
        ]


class _TokenChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Token) -> str:
        return gettext("%(obj)s, as %(user)s") % {"obj": obj.name, "user": obj.user.display_name}


class WebhookTokenForm(OrgForm):
    token = _TokenChoice(
        label=gettext_lazy("Program"),
        queryset=Token.objects.none(),
        help_text=gettext_lazy("It is told while its token lasts, and asks by it what changed."),
        error_messages={"required": gettext_lazy("Choose a program that is let in.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        found = tokens_to_choose(organisation=self.organisation)
        able = [token.pk for token in found if Scope.READ in token.scopes]
        self.fields["token"].queryset = found.filter(pk__in=able)


class WebhookForm(WebhookTokenForm):
    url = forms.CharField(
        label=gettext_lazy("Address"),
        max_length=LONGEST,
        help_text=gettext_lazy("For example https://farm.example/changes."),
    )

    field_order = ("url", "token")
