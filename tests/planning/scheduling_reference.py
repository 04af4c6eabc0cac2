"""Schedules of a few tasks by trying everything, slot by slot; shares nothing with the planner or its checker."""

from __future__ import annotations

from collections.abc import Mapping

from farmbuild.planning.scheduling.inputs import Placed, Resource, Resources, Task, Way


def there(resource: Resource, slot: int) -> int:
    if resource.windows is None:
        return resource.capacity
    return sum(window.capacity for window in resource.windows if window.start <= slot < window.end)


def walk(task: Task, way: Way, start: int, kinds: Mapping[str, Resource], last: int) -> int | None:
    """The end of a task that starts at ``start``, or None when it cannot."""
    left, slot = way.duration, start
    while left:
        if slot >= last:
            return None
        working = all(there(kinds[need.resource], slot) >= need.amount for need in way.needs)
        if not working and (slot == start or not task.pauses):
            return None
        left -= working
        slot += 1
    return slot


def clashes(resources: Resources, tasks: Mapping[str, Task], placed: list[Placed]) -> bool:
    for resource in resources.resources:
        held = []
        for place in placed:
            way = tasks[place.task].ways[place.way]
            amount = sum(need.amount for need in way.needs if need.resource == resource.ref)
            if amount and place.end > place.start:
                held.append((place, amount))
        if resource.travels:
            for one, _ in held:
                for other, _ in held:
                    if one is not other and one.start <= other.start:
                        journey = _journey(resources, tasks[one.task].place, tasks[other.task].place)
                        if other.start < one.end + journey:
                            return True
            continue
        most = resource.capacity if resource.windows is None else max(w.capacity for w in resource.windows)
        for slot in {place.start for place, _ in held} | {w.start for w in resource.windows or ()}:
            now = [amount for place, amount in held if place.start <= slot < place.end]
            capacity = there(resource, slot)
            if sum(now) > most or sum(amount for amount in now if amount <= capacity) > capacity:
                return True
    return False


def better(
    tasks: list[Task], resources: Resources, late: int, makespan: int, last: int, *, moved: int | None = None
) -> list[Placed] | None:
    """A schedule within ``last`` slots with fewer late jobs, or as many and a sooner end; None when there is none.

    With ``moved``, fewer moved tasks at most as late and as long are looked for instead.
    """
    by_ref = {task.ref: task for task in tasks}
    kinds = {resource.ref: resource for resource in resources.resources}
    # Each place that a task has is worked out once.
    places = [_places(task, kinds, last) for task in tasks]
    sure = _late_wherever(tasks, places)

    def worth(placed: list[Placed]) -> bool:
        late_now = {by_ref[p.task].job or p.task for p in placed if p.end > (by_ref[p.task].due or 10**9)}
        late_now |= sure[len(placed)]
        end = max((p.end for p in placed), default=0)
        if moved is not None:
            away = sum(by_ref[p.task].published not in (None, p) for p in placed)
            return len(late_now) <= late and end <= makespan and away < moved
        return len(late_now) < late or (len(late_now) == late and end < makespan)

    def deeper(placed: list[Placed]) -> list[Placed] | None:
        if len(placed) == len(tasks):
            return placed
        task = tasks[len(placed)]
        ends = {p.task: p.end for p in placed}
        first = 0 if task.fixed else max([task.release, *(ends[after.task] + after.lag for after in task.after)])
        for place in places[len(placed)]:
            now = [*placed, place]
            if place.start >= first and worth(now) and not clashes(resources, by_ref, now):
                found = deeper(now)
                if found is not None:
                    return found
        return None

    return deeper([]) if worth([]) else None


def _places(task: Task, kinds: Mapping[str, Resource], last: int) -> list[Placed]:
    """All that the windows let it have."""
    if task.fixed is not None:
        return [task.fixed]
    ends = (
        (number, start, walk(task, way, start, kinds, last))
        for number, way in enumerate(task.ways)
        for start in range(task.release, last)
    )
    return [Placed(task.ref, start, end, number) for number, start, end in ends if end is not None]


def _late_wherever(tasks: list[Task], places: list[list[Placed]]) -> list[set[str]]:
    """For each number of tasks that are placed, the jobs of the others that are late wherever those stand."""
    late: list[set[str]] = [set()]
    for task, has in zip(reversed(tasks), reversed(places), strict=True):
        due = task.due or 10**9
        late.append(late[-1] | ({task.job or task.ref} if all(place.end > due for place in has) else set()))
    return late[::-1]


def _journey(resources: Resources, one: str, other: str) -> int:
    if not one or not other or one == other:
        return 0
    return resources.travel.get((one, other), resources.travel.get((other, one), resources.travel_else))
