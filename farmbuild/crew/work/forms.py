"""Forms of templates, rates, and the choice for a house."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms

from farmbuild.common.form_parts import plain_counts
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.crew.bridge import Spread, Wait, circle_in, gate_problem
from farmbuild.crew.models import HouseWork, Kind, Rate, Skill
from farmbuild.crew.work.selectors import is_estimate
from farmbuild.crew.work.services import Step, circle_words
from farmbuild.crew.work.sheets import unit_of
from farmbuild.crew.work.words import hours, plain

BOXES = 2
MOST_HOURS = 24 * 60
_HOURS = f"Type hours of waiting from 0 to {MOST_HOURS:,}, for example 12 or 0.5."


def box(kind: str, name: str, at: int | None = None) -> str:
    return f"{kind}_{name}" if at is None else f"{kind}_{name}{at}"


@dataclass(frozen=True)
class StepBoxes:
    kind: str
    label: str
    ticked: Any
    boxes: list[Any]


class TemplateForm(OrgForm):
    """``cleaned_data["steps"]`` is the list of services.Step."""

    name = forms.CharField(
        label="Name of the template",
        max_length=120,
        error_messages={"required": "Type which houses it is for, for example 20 ft house."},
    )

    def __init__(self, *args: Any, name: str = "", steps: Sequence[Step] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].initial = name
        stored = {step.kind: step for step in steps}
        skills = Skill.objects.of(self.organisation).order_by("name")
        self.boxes_of: dict[str, int] = {}
        order = [step.kind for step in steps]
        for kind in sorted(Kind.values, key=lambda kind: order.index(kind) if kind in order else len(order)):
            step = stored.get(kind)
            self.fields[box(kind, "in")] = forms.BooleanField(
                label="Part of this work", required=False, initial=bool(step)
            )
            self.fields[box(kind, "people")] = forms.IntegerField(
                label="People", min_value=1, max_value=50, initial=step.people if step else 1
            )
            self.fields[box(kind, "skill")] = forms.ModelChoiceField(
                skills,
                label="Skill of one",
                required=False,
                empty_label="None",
                initial=step.skill if step else None,
            )
            waits = step.waits if step else ()
            self.boxes_of[kind] = self._count(kind, max(BOXES, len(waits) + 1))
            others = [("", "Nothing")] + [choice for choice in Kind.choices if choice[0] != kind]
            for at in range(self.boxes_of[kind]):
                after, lag = waits[at] if at < len(waits) else ("", 0)
                self.fields[box(kind, "after", at)] = forms.ChoiceField(
                    label="Waits for" if not at else "and for", choices=others, required=False, initial=after
                )
                self.fields[box(kind, "lag", at)] = forms.DecimalField(
                    label="Hours between",
                    required=False,
                    min_value=0,
                    max_value=MOST_HOURS,
                    initial=hours(lag) if lag else None,
                    error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), _HOURS),
                )
        plain_counts(self)

    def _count(self, kind: str, least: int) -> int:
        """As many boxes as were sent, so that nothing sent is lost when the template changed meanwhile."""
        if not self.is_bound:
            return least
        sent = 0
        while sent < len(Kind.values) and box(kind, "after", sent) in self.data:
            sent += 1
        return sent or least

    @property
    def steps(self) -> Iterator[StepBoxes]:
        for kind, count in self.boxes_of.items():
            names = [box(kind, "people"), box(kind, "skill")]
            names += [box(kind, name, at) for at in range(count) for name in ("after", "lag")]
            yield StepBoxes(kind, Kind(kind).label, self[box(kind, "in")], [self[name] for name in names])

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        ticked = [kind for kind in self.boxes_of if data.get(box(kind, "in"))]
        steps = [
            Step(
                kind=kind,
                people=data.get(box(kind, "people")) or 1,
                skill=data.get(box(kind, "skill")),
                waits=tuple(self._waits(kind, ticked)),
            )
            for kind in ticked
        ]
        if not steps:
            self.add_error(None, "A template needs work to do. Tick at least one step.")
        waits = [Wait(step.kind, after, lag) for step in steps for after, lag in step.waits]
        if circle := circle_in(waits):
            self.add_error(self._box_of(circle), circle_words(circle))
        elif words := gate_problem(ticked, waits):
            kind = Kind.BEND if Kind.TRIAL in ticked else Kind.TRIAL
            self.add_error(box(kind, "after", 0) if Kind.TRIAL in ticked else box(kind, "in"), words)
        data["steps"] = steps
        return data

    def _waits(self, kind: str, ticked: Sequence[str]) -> Iterator[tuple[str, int]]:
        """Of boxes without a mistake; says the mistakes of the others."""
        seen = set()
        for at in range(self.boxes_of[kind]):
            name = box(kind, "after", at)
            after, lag = self.cleaned_data.get(name), self.cleaned_data.get(box(kind, "lag", at))
            if not after:
                if lag:
                    self.add_error(name, "Choose the step after which these hours count, or empty the hours.")
            elif after in seen:
                self.add_error(name, f"{Kind(after).label} is chosen twice. Choose Nothing here.")
            elif after not in ticked:
                self.add_error(name, f"{Kind(after).label} is not part of this work. Tick it, or choose another step.")
            else:
                seen.add(after)
                yield after, int(((lag or Decimal(0)) * 60).quantize(Decimal(1), ROUND_HALF_UP))

    def _box_of(self, circle: Sequence[str]) -> str:
        """The box in which the first of the circle waits for the next."""
        step, after = circle[0], (*circle[1:], circle[0])[0]
        return next(
            name
            for name in (box(step, "after", at) for at in range(self.boxes_of[step]))
            if self.cleaned_data.get(name) == after
        )


@dataclass(frozen=True)
class RateBoxes:
    kind: str
    label: str
    counted_in: str
    boxes: list[Any]
    estimate: bool
    spread: Spread | None

    @property
    def recorded(self) -> str:
        found = self.spread
        if found is None:
            return "Nothing recorded yet."
        return (
            f"Recorded {found.records:,} time{'' if found.records == 1 else 's'}: median {plain(found.median)},"
            f" from {plain(found.lowest)} to {plain(found.highest)} person-minutes a {self.counted_in}."
        )

    @property
    def median(self) -> str:
        return plain(self.spread.median) if self.spread else ""


class RatesForm(OrgForm):
    """``cleaned_data["rates"]``: by kind, minutes for each and once a house."""

    def __init__(self, *args: Any, rates: dict[str, Rate], spreads: dict[str, Spread], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rates, self.spreads = rates, spreads
        words = "Type minutes as a number from 0 to 10,000, for example 12 or 2.5."
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
                self.fields[box(kind, name)] = forms.DecimalField(
                    label=f"Minutes a {unit_of(kind)}" if name == "each" else "Minutes once a house",
                    min_value=0,
                    max_value=10_000,
                    max_digits=7,
                    decimal_places=2,
                    initial=plain(value),
                    error_messages=dict.fromkeys(wrong, words),
                )

    @property
    def rows(self) -> list[RateBoxes]:
        return [
            RateBoxes(
                kind=kind,
                label=Kind(kind).label,
                counted_in=unit_of(kind),
                boxes=[self[box(kind, "each")], self[box(kind, "once")]],
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
