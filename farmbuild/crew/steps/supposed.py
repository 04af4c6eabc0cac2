"""The work of houses for which nobody has made tasks yet, as it would be made; nothing of it is stored."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

from farmbuild.crew.bridge import Wait, minutes_on_site, without, work_counts
from farmbuild.crew.models import HouseWork, Kind, Task, WorkTemplate
from farmbuild.crew.steps.selectors import rates_of, steps_of
from farmbuild.crew.steps.services import Step, standard_steps
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House


@dataclass
class SupposedWork:
    """``tasks`` have keys below 0. ``after``: by task, those that it waits for, and minutes between. ``skills``: by
    template and kind, the key and the name of the skill that a step asks for."""

    tasks: list[Task] = field(default_factory=list)
    after: dict[int, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    works: dict[int, HouseWork] = field(default_factory=dict)
    skills: dict[tuple[int | None, str], tuple[int, str]] = field(default_factory=dict)


def supposed_work(*, organisation: Organisation, houses: Collection[House]) -> SupposedWork:
    """Of houses without ``spec_problems``; by the template of each, else the first one, else the usual steps."""
    found = SupposedWork()
    if not houses:
        return found
    rates = rates_of(organisation=organisation)
    chosen = {
        row.house_id: row
        for row in HouseWork.objects.of(organisation).filter(house__in=houses).select_related("template")
    }
    first = WorkTemplate.objects.of(organisation).order_by("pk").first()
    steps: dict[int | None, list[Step]] = {}
    for house in houses:
        work = chosen.get(house.pk) or HouseWork(organisation=organisation, house=house, template=first)
        found.works[house.pk] = work
        if work.template_id not in steps:
            steps[work.template_id] = list(_steps(organisation, work.template if work.template_id else None))
            found.skills |= {
                (work.template_id, step.kind): (step.skill.pk, step.skill.name)
                for step in steps[work.template_id]
                if step.skill
            }
        own = steps[work.template_id]
        counts = {one.kind.value: one.count for one in work_counts(house, organisation.unit_system)}
        keys: dict[str, int] = {}
        for position, step in enumerate(own, 1):
            if count := counts[step.kind]:
                rate = rates[step.kind]
                keys[step.kind] = -len(found.tasks) - 1
                minutes = minutes_on_site(count, rate.minutes_each, rate.minutes_once, step.people)
                found.tasks.append(
                    Task(
                        pk=keys[step.kind],
                        organisation=organisation,
                        house=house,
                        kind=step.kind,
                        position=position,
                        count=count,
                        people=step.people,
                        minutes=minutes,
                    )
                )
        waits = [Wait(step.kind, after, lag) for step in own for after, lag in step.waits]
        for wait in without(waits, set(Kind.values) - set(keys)):
            found.after[keys[wait.step]].append((keys[wait.after], wait.lag))
    return found


def _steps(organisation: Organisation, template: WorkTemplate | None) -> Iterator[Step]:
    if template is None:
        yield from standard_steps(organisation=organisation)
        return
    for row in steps_of(template=template):
        waits = tuple((one.after.kind, one.lag_minutes) for one in row.afters.all())
        yield Step(row.kind, row.people, row.skill, waits)
