"""Forms of the rates of work, and of the choice for a house."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy, ngettext

from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.crew.bridge import Spread
from farmbuild.crew.models import HouseWork, Kind, Rate
from farmbuild.crew.steps.boxes import Box, box, labels
from farmbuild.crew.steps.presenters import unit_of
from farmbuild.crew.steps.selectors import is_estimate
from farmbuild.crew.steps.services import recorded_rate
from farmbuild.crew.steps.words import format_number
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
            return gettext("Nothing recorded yet.")
        words = ngettext(
            "Recorded %(count)s time: median %(median)s, from %(lowest)s to %(highest)s person-minutes for each:"
            " %(unit)s.",
            "Recorded %(count)s times: median %(median)s, from %(lowest)s to %(highest)s person-minutes for each:"
            " %(unit)s.",
            found.records,
        )
        return words % {
            "count": format_count(found.records),
            "median": format_number(found.median),
            "lowest": format_number(found.lowest),
            "highest": format_number(found.highest),
            "unit": self.counted_in,
        }

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
        words = by_sign(
            gettext("Type minutes as a number from 0 to %(count)s, for example 12 or 2.5.")
            % {"count": format_count(10_000)}
        )
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
        if name == "each":
            return gettext("Minutes for each: %(unit)s") % {"unit": self._unit(kind)}
        return gettext("Once a house")

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
        labels = {"template": gettext_lazy("Template"), "due": gettext_lazy("To stand by")}
        help_texts = {"due": gettext_lazy("The day on which the house should be covered and anchored.")}
        widgets = {"due": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}
        error_messages = {"due": {"invalid": gettext_lazy("Type a date, for example 2027-05-12.")}}
