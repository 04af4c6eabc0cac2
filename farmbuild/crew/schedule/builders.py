"""Who could build houses of a plan, and when: crews with the hours left to them, benders, and the work of each."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext

from farmbuild.crew import bridge
from farmbuild.crew.models import HouseWork, Task
from farmbuild.crew.people import selectors as people
from farmbuild.crew.schedule.problem import DAYS_AHEAD, ON_A_BENDER, OpenWork, live_tasks, no_bender
from farmbuild.crew.steps.supposed import supposed_work
from farmbuild.orgs.models import Organisation
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House


def tell_builders(
    sender: Any, *, organisation: Organisation, houses: Collection[House], start: datetime, **more: Any
) -> bridge.Builders:
    return builders_for(organisation=organisation, houses=houses, start=bridge.next_slot(start))


def builders_for(*, organisation: Organisation, houses: Collection[House], start: datetime) -> bridge.Builders:
    """``start``: on a quarter of an hour. No key of a row stands in what is given.

    What is published of other houses keeps its place; these houses may be built anew around it, but for what is begun
    or fixed. A house stands by the day that was said, else by the day on which it needs its materials; where that is
    past it has the whole year. One without tasks gets those of the usual steps, which nobody stores.
    """
    stored = list(live_tasks(organisation=organisation))
    there = {task.house_id for task in stored}
    sound = [house for house in houses if not spec_problems(house, organisation.unit_system)]
    supposed = supposed_work(organisation=organisation, houses=[one for one in sound if one.pk not in there])
    work = OpenWork(organisation, [*stored, *supposed.tasks], start)
    work.house_work.update(supposed.works)
    work.skill_of.update(supposed.skills)
    building = _Building(work, {house.pk: house for house in sound})
    after, releases = work.waits()
    for task, waits in supposed.after.items():
        after[task] += [bridge.After(str(before), bridge.slots_of(lag)) for before, lag in waits]
    tasks = [one for task in work.tasks for one in building.planned(task, after, releases)]
    cannot = building.cannot | {
        house.slug: gettext("%(house)s cannot be built as it is specified.") % {"house": house.name}
        for house in houses
        if house not in sound
    }
    first = start.astimezone(work.zone).date()
    return bridge.Builders(
        tasks=tuple(tasks),
        resources=bridge.Resources(
            resources=building.resources(),
            travel=people.travel_of(organisation=organisation),
            travel_else=people.travel_else(organisation=organisation),
        ),
        material=frozenset(building.material),
        cannot=tuple(sorted(cannot.items())),
        days={day: max(work.start_of(day), 0) for day in (first + timedelta(days=n) for n in range(DAYS_AHEAD))},
        benders=bool(work.benders),
    )


@dataclass
class _Building:
    """``own``: the houses that may be built, by key."""

    work: OpenWork
    own: dict[int, House]

    def __post_init__(self) -> None:
        self.cannot: dict[str, str] = {}
        self.material: list[str] = []
        self.refs = {task.pk: f"{task.house.slug}:{task.kind}" for task in self.work.tasks}
        # Names of crews change and keys are no concern of who is asked.
        self.crews = {crew.ref: f"crew {n}" for n, crew in enumerate(self.work.crews, 1)}
        self.benders = {f"bender-{one.pk}": f"bender {one.slug}" for one in self.work.benders}
        self.today = self.work.start.astimezone(self.work.zone).date()

    def resources(self) -> tuple[bridge.Resource, ...]:
        there = [*self.work.crews, *(self.work.bender_resource(one.pk) for one in self.work.benders)]
        names = self.crews | self.benders
        return tuple(bridge.Resource(names[one.ref], one.capacity, one.windows, one.travels) for one in there)

    def planned(
        self, task: Task, after: dict[int, list[bridge.After]], releases: dict[int, int]
    ) -> Iterator[bridge.Task]:
        if task.state == Task.State.DONE:
            return
        if task.house_id not in self.own:
            yield from self._elsewhere(task)
            return
        house, ref = self.own[task.house_id], self.refs[task.pk]
        pairs = list(self._pairs(task))
        if not self.work.crews:
            return
        stays = self.work.stays(task)
        if stays:
            pairs = [(task.crew_id, task.bender_id)]
        elif why := self.work.reasons.get(str(task.pk)):
            self.cannot.setdefault(house.slug, why)
        if task.kind in USES_MATERIAL:
            self.material.append(ref)
        yield bridge.Task(
            ref=ref,
            ways=tuple(self._way(task, *pair) for pair in pairs),
            after=tuple(bridge.After(self.refs[int(one.task)], one.lag) for one in after[task.pk]),
            release=releases[task.pk],
            due=self._due(house),
            job=house.slug,
            place=house.site.slug,
            fixed=bridge.Placed(ref, *stays, 0) if stays else None,
        )

    def _elsewhere(self, task: Task) -> Iterator[bridge.Task]:
        """What is published or begun there keeps its crew and its bender."""
        stays = self.work.stays(task)
        start, end = self.work.slots(task)
        if stays is None and start is not None and end > 0:
            stays = max(start, 0), end
        if stays and self.work.crews:
            ref = self.refs[task.pk]
            way = self._way(task, task.crew_id, task.bender_id)
            place = task.house.site.slug
            yield bridge.Task(ref, (way,), job=task.house.slug, place=place, fixed=bridge.Placed(ref, *stays, 0))

    def _pairs(self, task: Task) -> Iterator[tuple[int | None, int | None]]:
        able = self.work.able(task)
        if task.kind not in ON_A_BENDER or not self.work.benders:
            yield from ((crew, None) for crew in able)
            return
        benders = self.work.benders_for(task.house.recipe)
        if not benders:
            self.cannot[task.house.slug] = no_bender(task.house.recipe)
        yield from ((crew, bender) for crew in able for bender in benders)

    def _way(self, task: Task, crew: int | None, bender: int | None) -> bridge.Way:
        names = self.crews | self.benders
        needs = [(f"crew-{crew}", task.people), (f"bender-{bender}", 1)]
        return bridge.Way(
            tuple(bridge.Need(names[ref], amount) for ref, amount in needs if ref in names),
            bridge.slots_of(task.planned_minutes),
        )

    def _due(self, house: House) -> int | None:
        work: HouseWork | None = self.work.house_work.get(house.pk)
        day = (work and work.due) or house.need_date
        return self.work.end_of(day) if day >= self.today else None


USES_MATERIAL = frozenset(kind.value for kind, purposes in bridge.USES.items() if purposes)
