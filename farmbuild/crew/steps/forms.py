"""Forms of the rates of work, and of the choice for a house."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms

from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.crew.bridge import Spread
from farmbuild.crew.models import HouseWork, Kind, Rate
from farmbuild.crew.steps.boxes import Box, box, labels
from farmbuild.crew.steps.presenters import unit_of
from farmbuild.crew.steps.selectors import is_estimate
from farmbuild.crew.steps.services import recorded_rate
from farmbuild.crew.steps.words import format_number, with_article
from farmbuild.measure import by_sign, format_count


@dataclass(frozen=True)
class RateBoxes:
    kind: str
    label: str
    counted_in: str
    boxes: list[Box]
    estimate: bool
    spread: Spread | None

    @property
    def recorded(self) -> str:
        found = self.spread
        if found is None:
            return "Nothing recorded yet."
        return (
            f"Recorded {format_count(found.records)} time{'' if found.records == 1 else 's'}: median"
            f" {format_number(found.median)},"
            f" from {format_number(found.lowest)} to {format_number(found.highest)} person-minutes"
            f" {with_article(self.counted_in)}."
        )

    @property
    def median(self) -> str:
        return format_number(self.spread.median) if self.spread else ""


class RatesForm(OrgForm):
    """``cleaned_data["rates"]``: by kind, minutes for each and once a house.

    A press on the recorded median of a kind (``median`` in ``data``) fills its boxes, whatever was typed in them.
    """

    def __init__(
        self, data: Any = None, *args: Any, rates: dict[str, Rate], spreads: dict[str, Spread], **kwargs: Any
    ) -> None:
        kind = data.get("median", "") if data else ""
        if kind in spreads:
            each, once = recorded_rate(spreads[kind])
            data = data.copy()
            data[box(kind, "each")], data[box(kind, "once")] = format_number(each), format_number(once)
        super().__init__(data, *args, **kwargs)
        self.rates, self.spreads = rates, spreads
        words = by_sign(f"Type minutes as a number from 0 to {format_count(10_000)}, for example 12 or 2.5.")
        wrong = (
            "required",
            "invalid",
            "min_value",
            "max_value",
            "max_digits",
            "max_decimal_places",
            "max_whole_digits",
        )
        for kind, rate in rates.items():
            for name, value in (("each", rate.minutes_each), ("once", rate.minutes_once)):
                self.fields[box(kind, name)] = DecimalFormField(
                    **labels(kind, self._short(kind, name)),
                    min_value=0,
                    max_value=10_000,
                    max_digits=7,
                    decimal_places=2,
                    initial=format_number(value),
                    error_messages=dict.fromkeys(wrong, words),
                )

    def _short(self, kind: str, name: str) -> str:
        return f"Minutes {with_article(self._unit(kind))}" if name == "each" else "Once a house"

    def _unit(self, kind: str) -> str:
        return unit_of(kind, self.organisation.unit_system)

    @property
    def rows(self) -> list[RateBoxes]:
        return [
            RateBoxes(
                kind=kind,
                label=Kind(kind).label,
                counted_in=self._unit(kind),
                boxes=[Box(self._short(kind, name), self[box(kind, name)]) for name in ("each", "once")],
                estimate=is_estimate(rate),
                spread=self.spreads.get(kind),
            )
            for kind, rate in self.rates.items()
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not self.errors:
            data["rates"] = {kind: (data[box(kind, "each")], data[box(kind, "once")]) for kind in self.rates}
        return data


class HouseWorkForm(OrgModelForm):
    class Meta:
        model = HouseWork
        fields = ["template", "due"]
        labels = {"due": "To stand by"}
        help_texts = {"due": "The day on which the house should be covered and anchored."}
        widgets = {"due": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}
        error_messages = {"due": {"invalid": "Type a date, for example 2027-05-12."}}
