"""Forms of cost against quote."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.fields import MoneyField
from farmbuild.common.forms import OrgForm


class ToComeForm(OrgForm):
    amount = MoneyField(
        label=gettext_lazy("Still to come"),
        required=False,
        help_text=gettext_lazy("With what is on order. Leave it empty to go by what is worked out."),
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200, required=False)
