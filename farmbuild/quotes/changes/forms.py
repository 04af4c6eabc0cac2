"""Forms of change orders. What may be stored is decided by the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.orgs.clock import today
from farmbuild.quotes.models import QuoteLine
from farmbuild.quotes.tied import NUMBER_WORDS, TiedFields


class DraftForm(OrgForm):
    what = forms.CharField(
        label=gettext_lazy("What changes"), max_length=240, help_text=gettext_lazy("As the customer is to read it.")
    )


class LineForm(TiedFields):
    groups = (TiedFields.tied_group,)

    kind = forms.ChoiceField(label=gettext_lazy("Kind"), choices=QuoteLine.Kind.choices)
    what = forms.CharField(
        label=gettext_lazy("What it is"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Empty: the name of the material or kind of work chosen below."),
    )
    quantity = DecimalFormField(
        label=gettext_lazy("How many, or hours"),
        max_digits=11,
        decimal_places=3,
        help_text=gettext_lazy("Below 0 takes away what was agreed."),
        error_messages=NUMBER_WORDS,
    )
    price = DecimalFormField(
        label=gettext_lazy("Price of one"),
        max_digits=14,
        decimal_places=4,
        required=False,
        help_text=gettext_lazy("Hours have none: they cost the rates that were agreed."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_materials()


class AnswerForm(OrgForm):
    accept = forms.TypedChoiceField(
        label=gettext_lazy("Answer"),
        choices=[("yes", gettext_lazy("Accepted")), ("no", gettext_lazy("Declined"))],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": gettext_lazy("Choose what the customer said.")},
    )
    name = forms.CharField(label=gettext_lazy("Who said so"), max_length=120)
    day = DayField(label=gettext_lazy("Day"), initial=today)
    how = forms.CharField(
        label=gettext_lazy("How it was said"),
        max_length=120,
        help_text=gettext_lazy("For example: by telephone, or by letter."),
    )
