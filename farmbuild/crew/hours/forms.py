"""Forms of hours."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.crew.models import Person
from farmbuild.crew.people.selectors import people_of

_WRONG = ("required", "invalid", "min_value", "max_value", "max_digits", "max_decimal_places")
HOURS_WORDS = _("Type the hours as a number from 0.05 to 24, for example 2.5.")
_PEOPLE_WORDS = _("Type how many people were at it, from 1 to 50.")


def hours_field(**more: Any) -> DecimalFormField:
    return DecimalFormField(
        label=_("Hours, for one person"),
        min_value=Decimal("0.05"),
        max_value=24,
        max_digits=6,
        decimal_places=4,
        error_messages=dict.fromkeys(_WRONG, HOURS_WORDS),
        **more,
    )


def people_field() -> WholeFormField:
    return WholeFormField(
        label=_("People"),
        min_value=1,
        max_value=50,
        initial=1,
        error_messages=dict.fromkeys(_WRONG, _PEOPLE_WORDS),
    )


def minutes_of(hours: Decimal) -> int:
    return round(hours * 60)


class CorrectionForm(OrgForm):
    hours = hours_field(help_text=_("What it really took, without breaks."))
    people = people_field()
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        error_messages={"required": _("Say why in a few words, for example: Stop was forgotten.")},
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0)


class OtherWorkForm(OrgForm):
    what = forms.CharField(
        label=_("What was done"),
        max_length=200,
        error_messages={"required": _("Say what was done, for example: cleared stones from the ends.")},
    )
    day = forms.DateField(
        label=_("Day"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages=dict.fromkeys(("required", "invalid"), _("Type a date, for example 2027-05-12.")),
    )
    hours = hours_field()
    people = people_field()
    person = forms.ModelChoiceField(
        label=_("Who"), queryset=Person.objects.none(), required=False, empty_label=_("someone else")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = people_of(organisation=self.organisation)


class RemoveForm(OrgForm):
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        error_messages={"required": _("Say why in a few words, for example: written down twice.")},
    )
