"""Forms of tokens."""

from __future__ import annotations

from typing import Any

from django import forms

from farmbuild.api.scopes import ACTS, WORDS
from farmbuild.api.tokens import DAYS, MAX_DAYS
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.orgs.acts import Act


class TokenForm(OrgForm):
    name = forms.CharField(label="Program", max_length=60, help_text="What you call it, for example greenhouse clock.")
    scopes = forms.MultipleChoiceField(
        label="It may",
        widget=forms.CheckboxSelectMultiple,
        help_text="Only what you may do yourself, and only for as long as you may.",
        error_messages={"required": "Tick what the program may do."},
    )
    days = WholeFormField(label="Lasts, days", initial=DAYS, min_value=1, max_value=MAX_DAYS)

    def __init__(self, *args: Any, acts: frozenset[Act], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scopes"].choices = [
            (scope.value, WORDS[scope][:1].upper() + WORDS[scope][1:]) for scope, act in ACTS.items() if act in acts
        ]
