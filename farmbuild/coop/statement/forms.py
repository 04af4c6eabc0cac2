"""Forms of payments, of the days of an account, and of a statement that goes out."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.fields import MoneyField
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.coop.charges.forms import MoneyForm
from farmbuild.coop.models import MemberPayment
from farmbuild.orgs.clock import today


class PaymentForm(MoneyForm):
    paid_out = forms.TypedChoiceField(
        label=_("Who paid"),
        choices=[("0", _("The member paid")), ("1", _("It was paid to the member"))],
        widget=forms.RadioSelect,
        coerce=lambda value: value == "1",
        initial="0",
        error_messages={"required": _("Choose who paid.")},
    )
    day = DayField(label=_("Day"), initial=today)
    amount = MoneyField(label=_("Amount"), places=3, error_messages={"required": _("Type the amount that was paid.")})
    how = forms.ChoiceField(label=_("How"), choices=MemberPayment.How.choices)
    note = forms.CharField(
        label=_("Note"),
        max_length=120,
        required=False,
        help_text=_("It stands on the statement, for example: cheque 118."),
    )


class DaysForm(OrgForm):
    """Both days, or neither: then the season."""

    first = DayField(label=_("From"), required=False)
    last = DayField(label=_("To, included"), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        first, last = data.get("first"), data.get("last")
        if first and last and last < first:
            raise ValidationError({"last": gettext("That is before the first day. Type the same day or a later one.")})
        return data


class SendForm(OrgForm):
    last = DayField(label=_("Up to this day, included"), initial=today)
