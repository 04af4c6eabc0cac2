"""The form of a template: every kind of work, whom it takes and what it waits for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import DecimalFormField, WholeFormField, when_said
from farmbuild.crew.bridge import Wait, circle_in, gate_problem
from farmbuild.crew.models import Kind, Skill
from farmbuild.crew.steps.boxes import Box, box, labels
from farmbuild.crew.steps.services import Step, circle_words
from farmbuild.crew.steps.words import format_hours
from farmbuild.measure import by_sign, format_count

BOXES = 2
IN, PEOPLE, SKILL, AFTER, LAG = (
    gettext_lazy("Part of this work"),
    gettext_lazy("People"),
    gettext_lazy("Skill of one"),
    gettext_lazy("Waits for"),
    gettext_lazy("Hours between"),
)
MAX_HOURS = 24 * 60
_HOURS = when_said(
    lambda: by_sign(
        gettext_lazy("Type hours of waiting from 0 to %(most)s, for example 12 or 0.5.")
        % {"most": format_count(MAX_HOURS)}
    )
)


@dataclass(frozen=True)
class StepBoxes:
    kind: str
    label: str
    ticked: Any
    boxes: list[Box]

    @property
    def wrong(self) -> bool:
        return any(field.errors for field in (self.ticked, *(box.field for box in self.boxes)))


class TemplateForm(OrgForm):
    """``cleaned_data["steps"]`` is the list of services.Step."""

    name = forms.CharField(
        label=gettext_lazy("Name of the steps"),
        max_length=120,
        error_messages={"required": gettext_lazy("Type which houses it is for, for example low tunnel.")},
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
            self.fields[box(kind, "in")] = forms.BooleanField(required=False, **labels(kind, IN), initial=bool(step))
            self.fields[box(kind, "people")] = WholeFormField(
                min_value=1, max_value=50, initial=step.people if step else 1, **labels(kind, PEOPLE)
            )
            self.fields[box(kind, "skill")] = forms.ModelChoiceField(
                skills,
                required=False,
                **labels(kind, SKILL),
                empty_label=gettext("None"),
                initial=step.skill if step else None,
            )
            waits = step.waits if step else ()
            self.boxes_of[kind] = self._count(kind, max(BOXES, len(waits) + 1))
            others = [("", gettext("Nothing"))] + [choice for choice in Kind.choices if choice[0] != kind]
            for at in range(self.boxes_of[kind]):
                after, lag = waits[at] if at < len(waits) else ("", 0)
                self.fields[box(kind, "after", at)] = forms.ChoiceField(
                    choices=others, required=False, initial=after, **labels(kind, AFTER)
                )
                self.fields[box(kind, "lag", at)] = DecimalFormField(
                    required=False,
                    **labels(kind, LAG),
                    min_value=0,
                    max_value=MAX_HOURS,
                    initial=format_hours(lag) if lag else None,
                    error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), _HOURS),
                )
        set_integer_messages(self)

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
            boxes = [Box(PEOPLE, self[box(kind, "people")]), Box(SKILL, self[box(kind, "skill")])]
            for at in range(count):
                boxes.append(Box(gettext("and for") if at else AFTER, self[box(kind, "after", at)]))
                boxes.append(Box(LAG, self[box(kind, "lag", at)]))
            yield StepBoxes(kind, Kind(kind).label, self[box(kind, "in")], boxes)

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
            self.add_error(None, gettext("Tick at least one step."))
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
                    self.add_error(name, gettext("Choose the step after which these hours count, or empty the hours."))
            elif after in seen:
                self.add_error(
                    name, gettext("%(step)s is chosen twice. Choose Nothing here.") % {"step": Kind(after).label}
                )
            elif after not in ticked:
                self.add_error(
                    name,
                    gettext("%(step)s is not part of this work. Tick it, or choose another step.")
                    % {"step": Kind(after).label},
                )
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
