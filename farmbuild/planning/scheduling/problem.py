"""The tasks and resources as the search reads them: numbers in place of names, and what cannot be, taken out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from farmbuild.planning.scheduling.calendar import FOREVER, Calendar, all_of
from farmbuild.planning.scheduling.inputs import Placed, Resource, Resources, Task, Way
from farmbuild.planning.scheduling.reasons import Hindrance, Reason


@dataclass(frozen=True)
class Lane:
    """A shared resource in those windows that have ``capacity`` there, for tasks that need no more than that.

    Outside these windows up to ``most`` is there; ``taken`` are the windows, in which ``most - capacity`` is not.
    """

    capacity: int
    most: int
    taken: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Option:
    """One way of doing a task that can be. ``crews`` are the resources that travel, ``lanes`` what else it holds."""

    way: int
    duration: int
    calendar: Calendar
    crews: tuple[int, ...]
    lanes: tuple[tuple[int, int], ...]


@dataclass
class Node:
    """A task. ``before`` and ``following`` are ``(task, lag)``; ``head`` and ``latest`` bound its start and its end."""

    index: int
    task: Task
    options: list[Option]
    job: int
    place: int
    before: list[tuple[int, int]] = field(default_factory=list)
    following: list[tuple[int, int]] = field(default_factory=list)
    head: int = 0
    latest: int = FOREVER

    @property
    def fixed(self) -> Placed | None:
        return self.task.fixed

    def length(self) -> int:
        """The fewest slots from its start to its end."""
        if self.fixed is not None:
            return self.fixed.end - self.fixed.start
        return min(option.duration for option in self.options)


@dataclass
class Problem:
    nodes: list[Node]
    order: list[int]
    crews: list[Resource]
    lanes: list[Lane]
    jobs: list[str]
    travel: list[list[int]]
    unplaced: dict[str, tuple[Reason, ...]]
    broken: list[tuple[str, str]]

    @property
    def free(self) -> list[Node]:
        return [node for node in self.nodes if node.fixed is None]


def compiled(tasks: Sequence[Task], resources: Resources) -> Problem:
    """``tasks`` make sense already (see ``validate``)."""
    builder = _Builder(resources)
    unplaced: dict[str, tuple[Reason, ...]] = {}
    order = in_order(tasks)
    by_ref = {task.ref: task for task in tasks}
    options: dict[str, list[Option]] = {}
    for ref in order:
        task = by_ref[ref]
        missing = next((after.task for after in task.after if after.task in unplaced), None)
        if task.fixed is not None:
            options[ref] = [builder.option(k, way) for k, way in enumerate(task.ways)]
        elif missing is not None:
            unplaced[ref] = (Reason(Hindrance.WAITS, missing),)
        else:
            options[ref] = [
                option
                for option in (builder.option(k, way) for k, way in enumerate(task.ways))
                if option.calendar.earliest(task.release, option.duration, task.pauses) is not None
            ]
            if not options[ref]:
                unplaced[ref] = builder.why_not(task)
    kept = [task for task in tasks if task.ref not in unplaced]
    number = {task.ref: k for k, task in enumerate(kept)}
    jobs: dict[str, int] = {}
    places: dict[str, int] = {"": 0}
    nodes = [
        Node(
            k,
            task,
            options[task.ref],
            -1 if task.due is None else jobs.setdefault(task.job or task.ref, len(jobs)),
            places.setdefault(task.place, len(places)),
        )
        for k, task in enumerate(kept)
    ]
    for node in nodes:
        lags: dict[int, int] = {}
        for after in node.task.after:
            if after.task in number:
                before = number[after.task]
                lags[before] = max(after.lag, lags.get(before, 0))
        for before, lag in lags.items():
            node.before.append((before, lag))
            nodes[before].following.append((node.index, lag))
    names = list(places)
    problem = Problem(
        nodes,
        [number[ref] for ref in order if ref in number],
        builder.crews,
        builder.lanes,
        list(jobs),
        [[travel_between(resources, a, b) for b in names] for a in names],
        unplaced,
        [],
    )
    for node in problem.nodes:
        if node.fixed is not None:
            for before, _ in node.before:
                if problem.nodes[before].fixed is not None:
                    _check_fixed(problem, before, node.index)
    propagate(problem)
    return problem


def _check_fixed(problem: Problem, before: int, after: int) -> None:
    one, other = problem.nodes[before], problem.nodes[after]
    assert one.fixed is not None and other.fixed is not None
    lag = dict(other.before)[before]
    if one.fixed.end + lag > other.fixed.start:
        drop_wait(problem, before, after)


def drop_wait(problem: Problem, before: int, after: int) -> None:
    """The task ``after`` is fixed and cannot wait for ``before``."""
    one, other = problem.nodes[before], problem.nodes[after]
    one.following = [link for link in one.following if link[0] != after]
    other.before = [link for link in other.before if link[0] != before]
    problem.broken.append((one.task.ref, other.task.ref))


def propagate(problem: Problem) -> None:
    """Work out heads and latest ends; take out what calendars and fixed tasks leave no room for."""
    while True:
        _heads(problem)
        for k in reversed(problem.order):
            node = problem.nodes[k]
            if node.fixed is not None:
                node.latest = node.fixed.end
                continue
            node.latest = min((_latest_before(problem.nodes[j], lag) for j, lag in node.following), default=FOREVER)
        tight = next((n for n in problem.free if earliest_end(n, n.head) > n.latest), None)
        if tight is None:
            break
        pair = fixed_behind(problem, tight.index)
        if pair is not None:
            drop_wait(problem, *pair)
        else:
            leave_out(problem, {tight.index: Reason(Hindrance.NOBODY_BY_THEN)})
    for node in problem.free:
        node.options = [
            option
            for option in node.options
            if (found := option.calendar.earliest(node.head, option.duration, node.task.pauses)) is not None
            and found[1] <= node.latest
        ]


def _heads(problem: Problem) -> None:
    for k in problem.order:
        node = problem.nodes[k]
        if node.fixed is not None:
            node.head = node.fixed.start
            continue
        node.head = node.task.release
        for j, lag in node.before:
            before = problem.nodes[j]
            end = before.fixed.end if before.fixed is not None else earliest_end(before, before.head)
            node.head = max(node.head, end + lag)
        node.head = min(node.head, FOREVER)
        starts = [
            found[0]
            for option in node.options
            if (found := option.calendar.earliest(node.head, option.duration, node.task.pauses)) is not None
        ]
        node.head = min(starts, default=node.head)


def _latest_before(node: Node, lag: int) -> int:
    if node.fixed is not None:
        return node.fixed.start - lag
    if node.latest >= FOREVER:
        return FOREVER
    return latest_start(node, node.latest) - lag


def earliest_end(node: Node, start: int) -> int:
    """Of the ways of a task that is not fixed."""
    ends = [
        found[1]
        for option in node.options
        if (found := option.calendar.earliest(start, option.duration, node.task.pauses)) is not None
    ]
    return min(ends, default=FOREVER + 1)


def latest_start(node: Node, end: int) -> int:
    starts = [
        found[0]
        for option in node.options
        if (found := option.calendar.latest(end, option.duration, node.task.pauses)) is not None
    ]
    return max(starts, default=-1)


def fixed_behind(problem: Problem, start: int) -> tuple[int, int] | None:
    """The nearest wait of a fixed task for ``start`` or for what follows it."""
    queue, seen = [start], {start}
    for k in queue:
        for j, _ in problem.nodes[k].following:
            if problem.nodes[j].fixed is not None:
                return k, j
            if j not in seen:
                seen.add(j)
                queue.append(j)
    return None


def leave_out(problem: Problem, reasons: dict[int, Reason]) -> None:
    """Leave tasks out of the schedule, and with them all that waits for them and is not fixed."""
    out = dict(reasons)
    for k in problem.order:
        node = problem.nodes[k]
        if k in out or node.fixed is not None:
            continue
        waits = next((j for j, _ in node.before if j in out), None)
        if waits is not None:
            out[k] = Reason(Hindrance.WAITS, problem.nodes[waits].task.ref)
    for k, reason in out.items():
        problem.unplaced[problem.nodes[k].task.ref] = (reason,)
    kept = [node for node in problem.nodes if node.index not in out]
    number = {node.index: k for k, node in enumerate(kept)}
    for node in kept:
        node.index = number[node.index]
        node.before = [(number[j], lag) for j, lag in node.before if j in number]
        node.following = [(number[j], lag) for j, lag in node.following if j in number]
    problem.nodes = kept
    problem.order = [number[k] for k in problem.order if k in number]


def in_order(tasks: Sequence[Task]) -> list[str]:
    """References so that each comes after all it waits for; those in a circle are left out."""
    waits = {task.ref: len({after.task for after in task.after}) for task in tasks}
    following: dict[str, list[str]] = defaultdict(list)
    for task in tasks:
        for before in dict.fromkeys(after.task for after in task.after):
            following[before].append(task.ref)
    order = [ref for ref, count in waits.items() if count == 0]
    for ref in order:
        for after in following[ref]:
            waits[after] -= 1
            if waits[after] == 0:
                order.append(after)
    return order


def travel_between(resources: Resources, one: str, other: str) -> int:
    if one == other or not one or not other:
        return 0
    there = resources.travel.get((one, other))
    if there is None:
        there = resources.travel.get((other, one), resources.travel_else)
    return there


class _Builder:
    def __init__(self, resources: Resources) -> None:
        self.by_ref = {resource.ref: resource for resource in resources.resources}
        self.crews = [resource for resource in resources.resources if resource.travels]
        self.crew_number = {resource.ref: k for k, resource in enumerate(self.crews)}
        self.lanes: list[Lane] = []
        self.lanes_of: dict[str, list[int]] = {}
        for resource in resources.resources:
            if not resource.travels:
                self._add_lanes(resource)
        self._calendars: dict[tuple[tuple[str, int], ...], Calendar] = {}

    def _add_lanes(self, resource: Resource) -> None:
        windows = resource.windows or ()
        most = resource.capacity if resource.windows is None else max((w.capacity for w in windows), default=0)
        numbers = self.lanes_of.setdefault(resource.ref, [])
        for level in sorted({w.capacity for w in windows} | {most}):
            if level > 0:
                taken = tuple((w.start, w.end) for w in windows if w.capacity == level < most and w.start < w.end)
                numbers.append(len(self.lanes))
                self.lanes.append(Lane(level, most, taken))

    def calendar(self, amounts: dict[str, int]) -> Calendar:
        key = tuple(sorted(amounts.items()))
        if key not in self._calendars:
            self._calendars[key] = all_of([self.by_ref[ref] for ref, _ in key], [amount for _, amount in key])
        return self._calendars[key]

    def option(self, number: int, way: Way) -> Option:
        amounts = needed(way)
        crews = tuple(self.crew_number[ref] for ref in amounts if ref in self.crew_number)
        lanes = tuple(
            (lane, amount)
            for ref, amount in amounts.items()
            if ref not in self.crew_number
            for lane in self.lanes_of[ref]
            if amount <= self.lanes[lane].capacity
        )
        if way.duration == 0:
            return Option(number, 0, self.calendar({}), (), ())
        return Option(number, way.duration, self.calendar(amounts), crews, lanes)

    def why_not(self, task: Task) -> tuple[Reason, ...]:
        if not task.ways:
            return (Reason(Hindrance.NO_WAY),)
        return tuple(dict.fromkeys(self._why_not(task, way) for way in task.ways))

    def _why_not(self, task: Task, way: Way) -> Reason:
        amounts = needed(way)
        for ref, amount in amounts.items():
            if self.calendar({ref: amount}).total == 0:
                return Reason(Hindrance.NEVER_ENOUGH, resources=(ref,), amount=amount)
        names = tuple(amounts)
        calendar = self.calendar(amounts)
        if calendar.total == 0:
            return Reason(Hindrance.NEVER_TOGETHER, resources=names)
        if not task.pauses and calendar.longest() < way.duration:
            return Reason(Hindrance.NEVER_SO_LONG, resources=names, slots=way.duration)
        return Reason(Hindrance.NONE_LEFT, resources=names, slots=way.duration, after=task.release)


def needed(way: Way) -> dict[str, int]:
    """The amount of each resource. A resource that is listed twice is needed with the sum."""
    amounts: dict[str, int] = {}
    for need in way.needs:
        if need.amount > 0:
            amounts[need.resource] = amounts.get(need.resource, 0) + need.amount
    return amounts
