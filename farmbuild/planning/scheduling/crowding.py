"""Tasks that have to share something within a time that is too short for all of them."""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from farmbuild.planning.scheduling.calendar import Calendar, all_of, any_of
from farmbuild.planning.scheduling.problem import Lane, Node, Problem
from farmbuild.planning.scheduling.room import Room

#: Tasks looked at together at most, since each is compared with each.
MAX_TASKS = 600


@dataclass(frozen=True)
class _Group:
    """Each node with the hours that it takes of something whatever its way, and how many of them there are."""

    taken: list[tuple[int, int]]
    there: Callable[[int, int], int]


def crowded(problem: Problem, room: Room) -> bool:
    """Whether somewhere more has to be done from one slot to another than can be.

    What has to be done between two slots is the work of the tasks that ``room`` lets neither start before nor end
    after. (Overload of an interval: Baptiste, Le Pape and Nuijten, Constraint-Based Scheduling, 2001.)
    """
    return any(_overloaded(group, room) for group in _groups(problem))


def _overloaded(group: _Group, room: Room) -> bool:
    tasks = sorted(((room.first[k], room.last[k], work) for k, work in group.taken), reverse=True)[:MAX_TASKS]
    inside: list[tuple[int, int]] = []
    for number, (first, last, work) in enumerate(tasks):
        insort(inside, (last, work))
        if number + 1 < len(tasks) and tasks[number + 1][0] == first:
            continue
        asked = 0
        for until, amount in inside:
            asked += amount
            if asked > group.there(first, until):
                return True
    return False


def _groups(problem: Problem) -> Iterator[_Group]:
    for number, held in enumerate(held_hours(problem)):
        taken = [(node.index, _least(node, number)) for node in problem.free]
        yield _Group([(k, work) for k, work in taken if work], partial(lane_hours, problem.lanes[number], held))
    days = [all_of([crew], [1]) for crew in problem.crews]
    for crews in _choices(problem):
        members = [
            (node.index, min(option.duration for option in node.options))
            for node in problem.free
            if all(option.crews and crews.issuperset(option.crews) for option in node.options)
        ]
        yield _Group(members, partial(_crew_hours, [days[crew] for crew in crews]))


def _choices(problem: Problem) -> set[frozenset[int]]:
    """The crews that some task has to choose from."""
    return {
        frozenset(crew for option in node.options for crew in option.crews)
        for node in problem.free
        if all(option.crews for option in node.options)
    }


def _least(node: Node, lane: int) -> int:
    return min(
        (option.duration * sum(amount for number, amount in option.lanes if number == lane) for option in node.options),
        default=0,
    )


def _crew_hours(crews: list[Calendar], start: int, stop: int) -> int:
    return sum(crew.between(start, stop) for crew in crews)


def held_hours(problem: Problem) -> list[Calendar]:
    """For each lane, when it can be worked with: when those who use it are there."""
    users: dict[int, dict[int, Calendar]] = defaultdict(dict)
    for node in problem.free:
        for option in node.options:
            for lane, _ in option.lanes:
                users[lane][id(option.calendar)] = option.calendar
    return [any_of(users[lane].values()) for lane in range(len(problem.lanes))]


def lane_hours(lane: Lane, held: Calendar, start: int, stop: int) -> int:
    """What the lane gives from ``start`` to ``stop``."""
    given = lane.most * held.between(start, stop)
    for from_, to in lane.taken:
        given -= (lane.most - lane.capacity) * held.between(max(start, from_), min(stop, to))
    return given
