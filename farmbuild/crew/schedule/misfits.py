"""Which tasks of a schedule no longer fit what is there now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils.translation import gettext, ngettext

from farmbuild.crew import bridge
from farmbuild.crew.models import Task
from farmbuild.crew.schedule.problem import SLOT, ScheduleProblem, schedule_problem
from farmbuild.crew.schedule.sentences import Names, tasks_in
from farmbuild.crew.steps.selectors import Releases
from farmbuild.orgs.models import Organisation

#: Broken where someone or something is missing.
_SHORT = frozenset({bridge.Broken.THERE, bridge.Broken.WORK})


@dataclass(frozen=True)
class Place:
    crew: int
    bender: int | None
    starts_at: datetime
    ends_at: datetime


def misfits_of(
    *,
    organisation: Organisation,
    tasks: list[Task],
    places: Mapping[int, Place],
    start: datetime,
    now: datetime,
    releases: Releases | None = None,
) -> dict[int, list[str]]:
    """By the key of each task that does not fit any more, why, in sentences that follow on its name.

    ``tasks`` come from ``live_tasks``; ``places`` are those of the schedule that starts at
    ``start``. The problem is made anew from what is there now and checked by the independent check.
    """
    work = schedule_problem(organisation=organisation, tasks=tasks, start=start, releases=releases)
    return _Check(organisation, tasks, places, start, work).misfits(now)


class _Check:
    def __init__(
        self,
        organisation: Organisation,
        tasks: list[Task],
        places: Mapping[int, Place],
        start: datetime,
        work: ScheduleProblem,
    ) -> None:
        self.organisation, self.start, self.places, self.work = organisation, start, places, work
        self.rows = {task.pk: task for task in tasks}
        self.resources = work.resources
        self.kinds = {resource.ref: resource for resource in self.resources.resources}
        self.lost: list[int] = []
        self.placed: dict[str, bridge.Placed] = {}
        self.tasks = {task.ref: self._put(replace(task, published=None)) for task in work.tasks}

    def _put(self, task: bridge.Task) -> bridge.Task:
        """Where the task stands; one whose crew or bender may not do it any more holds nobody."""
        if task.fixed is not None:
            self.placed[task.ref] = task.fixed
            return task
        place = self.places.get(int(task.ref))
        if place is None or place.starts_at < self.start:
            return task
        first, last = (place.starts_at - self.start) // SLOT, (place.ends_at - self.start) // SLOT
        pairs = self.work.ways[task.ref]
        if (place.crew, place.bender) in pairs:
            self.placed[task.ref] = bridge.Placed(task.ref, first, last, pairs.index((place.crew, place.bender)))
            return task
        self.lost.append(int(task.ref))
        self.placed[task.ref] = bridge.Placed(task.ref, first, last, len(task.ways))
        return replace(task, ways=(*task.ways, bridge.Way((), last - first)))

    def misfits(self, now: datetime) -> dict[int, list[str]]:
        faults = bridge.faults(list(self.tasks.values()), self.resources, self._plan())
        names = Names(self.organisation, self.start, tasks_in(faults))
        found: dict[int, list[str]] = defaultdict(list)
        for key, task in self.rows.items():
            place = self.places.get(key)
            if place and task.state != Task.State.DONE and place.ends_at < now:
                words = (
                    gettext("it was to be done %(by)s and is not done.")
                    if task.state == Task.State.STARTED
                    else gettext("it was to be done %(by)s and is not begun.")
                )
                found[key].append(words % {"by": names.by(place.ends_at)})
        for key in self.lost:
            found[key].append(self._why_lost(key, names))
        for fault in faults:
            for key in self._hurt(fault):
                short = list(self._short(self.tasks[str(key)], names)) if fault.rule in _SHORT else []
                found[key] += short or [names.follows(fault)]
        return {key: list(dict.fromkeys(words)) for key, words in found.items()}

    def _plan(self) -> bridge.WorkPlan:
        late = {
            task.job or task.ref
            for task in self.tasks.values()
            if task.ref in self.placed and task.due is not None and self.placed[task.ref].end > task.due
        }
        return bridge.WorkPlan(
            placed=tuple(self.placed.values()),
            makespan=max((place.end for place in self.placed.values()), default=0),
            bound=0,
            optimal=False,
            late=tuple(sorted(late)),
            unplaced=tuple((ref, ()) for ref in self.tasks if ref not in self.placed),
            # What is begun or fixed stays, whatever it should have waited for.
            broken=tuple((after.task, task.ref) for task in self.tasks.values() if task.fixed for after in task.after),
        )

    def _hurt(self, fault: bridge.Fault) -> list[int]:
        """The task that a fault is about; of a bender that is wanted twice, all that want it then."""
        if fault.task:
            return [int(fault.task)]
        return [
            int(ref)
            for ref, place in self.placed.items()
            if place.start <= fault.actual < place.end
            and self.tasks[ref].fixed is None
            and fault.resource in {need.resource for need in self.tasks[ref].ways[place.way].needs}
        ]

    def _short(self, task: bridge.Task, names: Names) -> Iterator[str]:
        """What is missing while the task stands, which the check does not say."""
        place = self.placed[task.ref]
        for need in task.ways[place.way].needs:
            resource = self.kinds[need.resource]
            windows = [w for w in resource.windows or () if w.start < place.end and w.end > place.start]
            if resource.travels:
                few = next((window for window in windows if 0 < window.capacity < need.amount), None)
                if few:
                    words = ngettext(
                        "%(crew)s has %(count)s person %(when)s, and it takes %(needed)s.",
                        "%(crew)s has %(count)s people %(when)s, and it takes %(needed)s.",
                        few.capacity,
                    )
                    yield words % {
                        "crew": names.resource(need.resource),
                        "count": few.capacity,
                        "when": names.when(max(few.start, place.start)),
                        "needed": need.amount,
                    }
                continue
            free = place.start
            for window in windows:
                if window.start > free:
                    break
                free = window.end
            if resource.windows is not None and free < place.end:
                yield gettext("%(resource)s is away %(when)s.") % {
                    "resource": names.resource(need.resource),
                    "when": names.when(free),
                }

    def _why_lost(self, key: int, names: Names) -> str:
        if own := self.work.reasons.get(str(key)):
            return own
        place = self.places[key]
        if place.crew not in {crew for crew, _ in self.work.ways[str(key)]}:
            crew = names.resource(f"crew-{place.crew}")
            return gettext("%(crew)s may not do it any more: too few people, or the skill is missing.") % {"crew": crew}
        return gettext("%(resource)s does not bend its hoops any more.") % {
            "resource": names.resource(f"bender-{place.bender}")
        }
