"""Whether crews and benders can build a choice of houses, each by its day: by a schedule, never by a sum of hours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from farmbuild.planning.advice.limits import Limit
from farmbuild.planning.scheduling import plan_work
from farmbuild.planning.scheduling.budget import Found
from farmbuild.planning.scheduling.inputs import Resource, Resources, Task, WorkPlan
from farmbuild.planning.scheduling.reasons import Hindrance

#: Of one schedule: a few seconds of a core at most, and moments where the first one fits.
SECONDS, EFFORT = 20.0, 1.0


@dataclass(frozen=True)
class Builders:
    """Crews, benders and the work of houses.

    ``tasks``: of houses that may be built, by ``job`` the house, with the day it should stand by as ``due``; and what
    crews do elsewhere, each ``fixed``. ``material``: those of ``tasks`` that use material up. ``cannot``: houses that
    nobody can build, whatever is bought, and why. ``days``: the slot at which each day begins, for a year or so.
    ``benders`` False: none is written down, so none is looked for.
    """

    tasks: tuple[Task, ...]
    resources: Resources
    material: frozenset[str] = frozenset()
    cannot: tuple[tuple[str, str], ...] = ()
    days: Mapping[date, int] = field(default_factory=dict)
    benders: bool = True

    @property
    def crews(self) -> bool:
        """Whether there are any; without one no hours are looked at."""
        return any(one.travels for one in self.resources.resources)


@dataclass(frozen=True)
class Verdict:
    """``proven``: a "no" that no other schedule could turn into a "yes"."""

    fits: bool
    proven: bool = True


class CrewTime:
    """Asks the schedule whether houses fit; what was asked once is known."""

    def __init__(self, builders: Builders | None) -> None:
        self.builders = builders
        self._known: dict[tuple[frozenset[str], str, int], Verdict] = {}

    def fits(self, houses: frozenset[str], *, late: str = "", comes: date | None = None) -> Verdict:
        """``late``: a house whose material comes on the day ``comes`` and no sooner."""
        if self.builders is None:
            return Verdict(True)
        release = self._slot(comes) if comes else 0
        key = (houses, late if release else "", release)
        if key not in self._known:
            self._known[key] = self._asked(houses, *key[1:])
        return self._known[key]

    def _slot(self, day: date) -> int:
        """What comes after the last day that is known comes too late for everybody."""
        assert self.builders is not None
        days = self.builders.days
        return days[day] if day in days else max(days.values(), default=0) if days and day > max(days) else 0

    def _asked(self, houses: frozenset[str], late: str, release: int) -> Verdict:
        assert self.builders is not None
        tasks = list(self._tasks(houses, late, release))
        if all(task.fixed for task in tasks):
            return Verdict(True)
        plan = plan_work(tasks, self.builders.resources, time_limit=SECONDS, effort=EFFORT, progress=_is_enough)
        if not plan.late and not plan.unplaced:
            return Verdict(True)
        return Verdict(False, proven=plan.late_bound > 0 or _never(plan))

    def _tasks(self, houses: frozenset[str], late: str, release: int) -> Iterator[Task]:
        assert self.builders is not None
        for task in self.builders.tasks:
            if task.job in houses:
                waits = task.job == late and task.ref in self.builders.material and task.fixed is None
                yield replace(task, release=max(task.release, release)) if waits else task
            elif task.fixed is not None:
                # It keeps its place, and who is late there already is late whatever is built.
                yield replace(task, due=None, after=())


def _is_enough(found: Found) -> bool:
    return found.placed == found.jobs and not found.late


def _never(plan: WorkPlan) -> bool:
    return any(reason.rule is not Hindrance.NO_ROOM for _, reasons in plan.unplaced for reason in reasons)


def time_limits(builders: Builders) -> Iterator[Limit]:
    """Of each day by which houses should stand: the crews' hours until then, less what is fixed, against their work.

    A task holds one crew whole for as long as it works, so no choice beyond it fits.
    """
    crews = {one.ref: one for one in builders.resources.resources if one.travels}
    held: dict[str, list[tuple[int, int]]] = {ref: [] for ref in crews}
    for task in builders.tasks:
        if task.fixed is not None:
            for need in task.ways[task.fixed.way].needs:
                held.get(need.resource, []).append((task.fixed.start, task.fixed.end))
    own = [task for task in builders.tasks if task.fixed is None and task.job and task.due is not None]
    for due in sorted({task.due or 0 for task in own}):
        there = sum(_free(crew, held[ref], due) for ref, crew in crews.items())
        takes: dict[str, int] = {}
        for task in own:
            if (task.due or 0) <= due:
                takes[task.job] = takes.get(task.job, 0) + _least(task, crews)
        yield Limit(takes, there)


def _least(task: Task, crews: Mapping[str, Resource]) -> int:
    """Slots for which it holds a crew at least."""
    return min(
        (way.duration if any(need.resource in crews for need in way.needs) else 0 for way in task.ways), default=0
    )


def _free(crew: Resource, held: list[tuple[int, int]], end: int) -> int:
    """Slots in which it is there and holds nothing fixed; what overlaps counts once."""
    free = sum(max(0, min(window.end, end) - window.start) for window in crew.windows or ())
    last = 0
    for start, until in sorted(held):
        begin = max(start, last)
        free -= sum(max(0, min(window.end, until, end) - max(window.start, begin)) for window in crew.windows or ())
        last = max(last, until)
    return free
