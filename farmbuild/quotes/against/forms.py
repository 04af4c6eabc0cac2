"""Forms of cost against quote."""

from __future__ import annotations

from django import forms

from farmbuild.catalogue.fields import MoneyField
from farmbuild.common.forms import OrgForm


class ToComeForm(OrgForm):
    amount = MoneyField(
        label="Still to come",
        required=False,
        help_text="With what is on order. Leave it empty to go by what is worked out.",
    )
    reason = forms.CharField(label="Why", max_length=200, required=False)
