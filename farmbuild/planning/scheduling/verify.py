"""Whether a schedule keeps every rule, checked slot by slot in plain code that shares nothing with the search."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from farmbuild.planning.scheduling.inputs import Placed, Resource, Resources, Task, Way, WorkPlan


class Broken(Enum):
    """The rules, each as its sentence in the fields of ``Fault``."""

    TOLD_ONCE = "{task} is told of {actual} times, not once."
    KNOWN = "{task} is no task."
    WAY = "{task} is done in way {actual}, which it does not have."
    FIXED = "{task} is fixed and does not stand where it is fixed."
    RELEASE = "{task} starts at slot {actual}, before it may, at {expected}."
    NO_TIME = "{task} takes no time and yet ends after it starts."
    THERE = "{task} starts or ends while something that it needs is not there."
    WORK = "{task} has {actual} slots of work and takes {expected}."
    IN_ONE_GO = "{task} stops on the way and must be done in one go."
    WAIT_PLACED = "{task} is placed and what it waits for, {other}, is not."
    WAIT = "{task} starts before {other} has ended and {expected} slots have gone."
    JOURNEY = "{resource} cannot be at {task} in time after {other}."
    ENOUGH = "{resource} is asked for more than {expected} at slot {actual}."
    MAKESPAN = "The plan says that it ends at slot {actual}; it ends at {expected}."
    LATE = "The plan does not list the jobs that are late."
    MOVED = "The plan does not list the tasks that stand elsewhere than published."
    BOUND = "A bound of the plan is above what the plan reaches."


@dataclass(frozen=True)
class Fault:
    """A rule that is broken, and by whom: references of tasks and of a resource, and slots or numbers as they are and
    as they should be. What the sentence of the rule does not name is empty."""

    rule: Broken
    task: str = ""
    other: str = ""
    resource: str = ""
    actual: int = 0
    expected: int = 0

    def __str__(self) -> str:
        return self.rule.value.format(**vars(self))


def faults(tasks: Sequence[Task], resources: Resources, plan: WorkPlan) -> list[Fault]:
    """What is wrong with ``plan``; an empty list when nothing is.

    Fixed tasks stand where they were put, so what they do to each other is no fault, nor are the waits that the
    plan lists as broken. ``bound`` is not looked into beyond its lying below the makespan.
    """
    by_ref = {task.ref: task for task in tasks}
    placed = {place.task: place for place in plan.placed}
    found = [*_each_once(tasks, plan, by_ref)]
    if found:
        return found
    kinds = {resource.ref: resource for resource in resources.resources}
    for ref, place in placed.items():
        task = by_ref[ref]
        if task.fixed is not None:
            if place != task.fixed:
                found.append(Fault(Broken.FIXED, ref))
            continue
        found.extend(_times(task, place, kinds))
    found.extend(_waits(tasks, placed, plan))
    for resource in resources.resources:
        if resource.travels:
            found.extend(_crew(resource, resources, by_ref, placed))
        else:
            found.extend(_shared(resource, by_ref, placed))
    found.extend(_sums(tasks, placed, plan))
    return found


def _each_once(tasks: Sequence[Task], plan: WorkPlan, by_ref: dict[str, Task]) -> Iterator[Fault]:
    told = [place.task for place in plan.placed] + [ref for ref, _ in plan.unplaced]
    for task in tasks:
        if told.count(task.ref) != 1:
            yield Fault(Broken.TOLD_ONCE, task.ref, actual=told.count(task.ref))
    for ref in told:
        if ref not in by_ref:
            yield Fault(Broken.KNOWN, ref)
    for place in plan.placed:
        if place.task in by_ref and not 0 <= place.way < len(by_ref[place.task].ways):
            yield Fault(Broken.WAY, place.task, actual=place.way)


def _amounts(way: Way) -> dict[str, int]:
    amounts: dict[str, int] = {}
    for need in way.needs:
        amounts[need.resource] = amounts.get(need.resource, 0) + need.amount
    return {ref: amount for ref, amount in amounts.items() if amount > 0}


def _capacity_at(resource: Resource, slot: int) -> int:
    return next(_capacities(resource, slot, slot + 1))


def _capacities(resource: Resource, start: int, end: int) -> Iterator[int]:
    """What it has at each slot from ``start`` to before ``end``."""
    windows = resource.windows
    if windows is not None:
        windows = tuple(window for window in windows if window.start < end and window.end > start)
    for slot in range(start, end):
        if windows is None:
            yield resource.capacity
        else:
            yield next((window.capacity for window in windows if window.start <= slot < window.end), 0)


def _times(task: Task, place: Placed, kinds: dict[str, Resource]) -> Iterator[Fault]:
    way = task.ways[place.way]
    if place.start < task.release:
        yield Fault(Broken.RELEASE, task.ref, actual=place.start, expected=task.release)
    if way.duration == 0:
        if place.start != place.end:
            yield Fault(Broken.NO_TIME, task.ref)
        return
    amounts = _amounts(way)
    working = [True] * (place.end - place.start)
    for ref, amount in amounts.items():
        there = _capacities(kinds[ref], place.start, place.end)
        working = [before and now >= amount for before, now in zip(working, there, strict=True)]
    if not working or not working[0] or not working[-1]:
        yield Fault(Broken.THERE, task.ref)
    if sum(working) != way.duration:
        yield Fault(Broken.WORK, task.ref, actual=sum(working), expected=way.duration)
    if not task.pauses and not all(working):
        yield Fault(Broken.IN_ONE_GO, task.ref)


def _waits(tasks: Sequence[Task], placed: dict[str, Placed], plan: WorkPlan) -> Iterator[Fault]:
    for task in tasks:
        if task.ref not in placed:
            continue
        for after in task.after:
            if after.task not in placed:
                if task.fixed is None:
                    yield Fault(Broken.WAIT_PLACED, task.ref, after.task)
                continue
            if placed[task.ref].start < placed[after.task].end + after.lag and not (
                task.fixed is not None and (after.task, task.ref) in plan.broken
            ):
                yield Fault(Broken.WAIT, task.ref, after.task, expected=after.lag)


def _holders(
    resource: Resource, by_ref: dict[str, Task], placed: dict[str, Placed]
) -> Iterator[tuple[Task, Placed, int]]:
    for ref, place in placed.items():
        way = by_ref[ref].ways[place.way]
        amount = _amounts(way).get(resource.ref, 0)
        if amount > 0 and way.duration > 0 and place.end > place.start:
            yield by_ref[ref], place, amount


def _crew(
    resource: Resource, resources: Resources, by_ref: dict[str, Task], placed: dict[str, Placed]
) -> Iterator[Fault]:
    holders = sorted(_holders(resource, by_ref, placed), key=lambda held: (held[1].start, held[1].end))
    for k, (task, place, _) in enumerate(holders):
        for other, later, _ in holders[k + 1 :]:
            if task.fixed is not None and other.fixed is not None:
                continue
            journey = _journey(resources, task.place, other.place)
            back = _journey(resources, other.place, task.place)
            if later.start < place.end + journey and place.start < later.end + back:
                yield Fault(Broken.JOURNEY, other.ref, task.ref, resource.ref)


def _journey(resources: Resources, one: str, other: str) -> int:
    if "" in (one, other) or one == other:
        return 0
    if (one, other) in resources.travel:
        return resources.travel[one, other]
    return resources.travel.get((other, one), resources.travel_else)


def _shared(resource: Resource, by_ref: dict[str, Task], placed: dict[str, Placed]) -> Iterator[Fault]:
    holders = list(_holders(resource, by_ref, placed))
    windows = resource.windows
    most = resource.capacity if windows is None else max((window.capacity for window in windows), default=0)
    by_slot: dict[int, list[tuple[Task, int]]] = {}
    for task, place, amount in holders:
        for slot in range(place.start, place.end):
            by_slot.setdefault(slot, []).append((task, amount))
    for slot, held in sorted(by_slot.items()):
        there = _capacity_at(resource, slot)
        at_work = [(task, amount) for task, amount in held if amount <= there]
        for group, room in ((held, most), (at_work, there)):
            if sum(amount for _, amount in group) > room and any(task.fixed is None for task, _ in group):
                yield Fault(Broken.ENOUGH, resource=resource.ref, actual=slot, expected=room)
                return


def _sums(tasks: Sequence[Task], placed: dict[str, Placed], plan: WorkPlan) -> Iterator[Fault]:
    makespan = max((place.end for place in placed.values()), default=0)
    if plan.makespan != makespan:
        yield Fault(Broken.MAKESPAN, actual=plan.makespan, expected=makespan)
    late = {
        task.job or task.ref
        for task in tasks
        if task.ref in placed and task.due is not None and placed[task.ref].end > task.due
    }
    if set(plan.late) != late or len(plan.late) != len(late):
        yield Fault(Broken.LATE)
    moved = {
        task.ref
        for task in tasks
        if task.ref in placed and task.published is not None and placed[task.ref] != task.published
    }
    if set(plan.moved) != moved:
        yield Fault(Broken.MOVED)
    if plan.bound > plan.makespan or plan.late_bound > len(plan.late):
        yield Fault(Broken.BOUND)
