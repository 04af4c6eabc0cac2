"""What the pages of work show, gathered once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said
from farmbuild.crew.bridge import (
    RATES_SOURCE,
    Wait,
    WorkCount,
    WorkKind,
    duration_words,
    minutes_on_site,
    unit_names,
    without,
    work_counts,
)
from farmbuild.crew.models import Kind, Task, WorkStep, WorkTemplate
from farmbuild.crew.steps.facts import Facts, facts_of_house
from farmbuild.crew.steps.selectors import (
    is_estimate,
    rates_of,
    releases_of_house,
    steps_of,
    tasks_of,
    waits_of,
)
from farmbuild.crew.steps.words import after_words
from farmbuild.hoops.batches.selectors import batches_for
from farmbuild.measure import UnitSystem, format_decimal, format_minutes
from farmbuild.plans.selectors import accepted_slugs
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House

_BY_PLAN = gettext_lazy(
    "Materials on site: the last day on which an order line is due that holds them by the accepted plan."
)
_BY_HOUSE = gettext_lazy(
    "Materials on site: no accepted plan builds the house, so the day on which it needs its materials."
)


def unit_of(kind: str, units: str, count: int = 1) -> str:
    return gettext(unit_names(WorkKind(kind), UnitSystem(units))[count != 1])


@dataclass(frozen=True)
class StepRow:
    """A step of a template."""

    kind: str
    name: str
    counted_in: str
    people: int
    skill: str
    waits_for: str


def step_rows(template: WorkTemplate) -> list[StepRow]:
    return [
        StepRow(
            kind=step.kind,
            name=step.get_kind_display(),
            counted_in=unit_of(step.kind, template.organisation.unit_system, 2),
            people=step.people,
            skill=step.skill.name if step.skill else "",
            waits_for="; ".join(
                after_words(row.after.get_kind_display(), row.lag_minutes) for row in step.afters.all()
            ),
        )
        for step in steps_of(template=template)
    ]


def not_among(kinds: Iterable[str]) -> list[str]:
    """Names of the work that has no step, in the usual order."""
    there = set(kinds)
    return [label for kind, label in Kind.choices if kind not in there]


@dataclass(frozen=True)
class TaskRow:
    """A step of a house as it is worked out now, and its task where there is one."""

    kind: str
    name: str
    count: int
    unit: str
    people: int
    skill: str
    minutes: int
    on_site: date | None
    waits_for: str
    working: list[str]
    facts: Facts | None
    task: Task | None

    @property
    def own_minutes(self) -> int | None:
        return self.task.own_minutes if self.task else None

    @property
    def planned_minutes(self) -> int:
        """As it is planned: the length of its own where the task has one."""
        return self.own_minutes or self.minutes

    @property
    def time(self) -> str:
        return (
            gettext("%(time)s, its own length") % {"time": format_minutes(self.planned_minutes)}
            if self.own_minutes
            else format_minutes(self.planned_minutes)
        )

    @property
    def task_time(self) -> str:
        return format_minutes(self.task.minutes) if self.task else ""

    @property
    def state(self) -> str:
        return self.task.get_state_display() if self.task else gettext("Not made yet")

    @property
    def changed(self) -> bool:
        """The open task says other than what is worked out now."""
        task = self.task
        if task is None or task.state != Task.State.OPEN:
            return task is None
        return (task.count, task.people, task.minutes) != (self.count, self.people, self.minutes)


@dataclass(frozen=True)
class HouseWorkPage:
    """``left_out``: work of the template that the house has none of, with why. ``missing``: work of the house that the
    template has no step for, with how much. ``stale``: tasks to make again.
    """

    problems: list[Any]
    rows: list[TaskRow]
    left_out: list[tuple[str, str]]
    missing: list[tuple[str, str]]
    made: bool
    stale: bool

    @property
    def person_hours(self) -> str:
        return person_hours(self.rows)


def person_hours(rows: Iterable[TaskRow]) -> str:
    """All of them summed, to a tenth."""
    return format_decimal(Decimal(sum(row.planned_minutes * row.people for row in rows)) / 60, 1)


def house_work_page(house: House, template: WorkTemplate) -> HouseWorkPage:
    organisation = house.organisation
    if problems := spec_problems(house, organisation.unit_system):
        return HouseWorkPage(problems, [], [], [], made=False, stale=False)
    counts = {count.kind.value: count for count in work_counts(house, organisation.unit_system)}
    steps = list(steps_of(template=template))
    waits = without(waits_of(template=template), {kind for kind, count in counts.items() if not count.count})
    tasks = {task.kind: task for task in tasks_of(house=house)}
    rates, releases = rates_of(organisation=organisation), releases_of_house(house=house)
    source = _BY_PLAN if house.slug in accepted_slugs(organisation=organisation) else _BY_HOUSE
    batches = batches_for(organisation=organisation, houses=[house])
    facts = facts_of_house(house, batches.get(house.pk, ()))
    rows = [
        _task_row(
            step,
            counts[step.kind],
            rates[step.kind],
            (releases[step.kind], source),
            waits,
            facts.get(step.kind),
            tasks.get(step.kind),
        )
        for step in steps
        if counts[step.kind].count
    ]
    known = {row.kind for row in rows}
    left = any(task.state == Task.State.OPEN for kind, task in tasks.items() if kind not in known)
    # Nothing is added to a house that is built.
    built = all(task.state == Task.State.DONE for task in tasks.values())
    among = {step.kind for step in steps}
    return HouseWorkPage(
        problems=[],
        rows=rows,
        left_out=[
            (step.get_kind_display(), said(counts[step.kind].working)) for step in steps if not counts[step.kind].count
        ],
        missing=[
            (Kind(kind).label, said(count.words)) for kind, count in counts.items() if count.count and kind not in among
        ],
        made=bool(tasks),
        stale=not built and (left or any(row.changed for row in rows)),
    )


def _task_row(
    step: WorkStep,
    count: WorkCount,
    rate: Any,
    release: tuple[date | None, str],
    waits: tuple[Wait, ...],
    facts: Facts | None,
    task: Task | None,
) -> TaskRow:
    sum_ = (count.count, rate.minutes_each, rate.minutes_once, step.people)
    own = task is not None and task.own_minutes is not None
    source = gettext(RATES_SOURCE) if is_estimate(rate) else gettext("The rate is your own.")
    afters: Mapping[str, int] = {wait.after: wait.lag for wait in waits if wait.step == step.kind}
    return TaskRow(
        kind=step.kind,
        name=step.get_kind_display(),
        count=count.count,
        unit=unit_of(step.kind, count.units, count.count),
        people=step.people,
        skill=step.skill.name if step.skill else "",
        minutes=minutes_on_site(*sum_),
        on_site=release[0],
        waits_for="; ".join(after_words(Kind(kind).label, lag) for kind, lag in afters.items()),
        working=[
            f"{said(count.words)}: {said(count.working)}",
            said(duration_words(*sum_)),
            *(
                [
                    gettext("Planned with a length of its own: %(own_minutes)s.")
                    % {"own_minutes": format_minutes(task.own_minutes)}
                ]
                if own
                else []
            ),
            source,
            *([release[1]] if release[0] else []),
        ],
        facts=facts,
        task=task,
    )
