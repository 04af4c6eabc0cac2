"""Forms of orders. What may be stored is decided by the services and models."""

from __future__ import annotations

from datetime import date

from django import forms

from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm


class SendForm(OrgForm):
    sent_on = DayField(label="Goes out on", initial=date.today)
    how = forms.CharField(
        label="How it goes out", max_length=120, required=False, help_text="For example: by e-mail to the counter."
    )


class ReasonForm(OrgForm):
    reason = forms.CharField(label="Why", max_length=200)

    def __init__(self, *args, example: str, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].error_messages["required"] = f"Say why in a few words, for example: {example}."
