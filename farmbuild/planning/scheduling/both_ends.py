"""Schedules put together from both ends, for seasons that are short of crews all along.

A schedule from the front has the crews idle at the end, when few houses are left and each is one chain; one from the
end backwards has them idle at the start. So the later part is put together backwards from an end that is asked for,
and the rest from the front into what is left free. (Planning in two directions: Klein, European Journal of
Operational Research 127, 2000, there without calendars, ways and journeys.)
"""

from __future__ import annotations

import heapq
import random
from dataclasses import dataclass, replace
from itertools import product

from farmbuild.planning.scheduling.budget import TRY, Budget
from farmbuild.planning.scheduling.calendar import FOREVER, all_of
from farmbuild.planning.scheduling.draft import Draft, Place
from farmbuild.planning.scheduling.greedy import Prices, earliest_place, parallel, prices, ranks
from farmbuild.planning.scheduling.mirror import mirrored, turned
from farmbuild.planning.scheduling.problem import Problem, latest_start
from farmbuild.planning.scheduling.timeline import Timeline

#: Only where crews are at work for more than this share of their hours.
SHORT = 0.75
#: How much sooner than the best so far it is asked to end, as a share.
SOONER = 0.006
#: How much large crews are spared backwards and from the front, and where the later part begins, as a share.
BACK, FRONT = (4.0, 6.0), 4.0
MEET = (0.5, 0.65, 0.8)
#: After so many tries without any good, the next is another start.
PATIENCE = 60


@dataclass(frozen=True)
class _Rule:
    back: float
    rank: int
    meet: float
    front: float
    #: By node: how far its turn backwards is off, as a share of all turns, and how much dearer its ways are.
    off: tuple[float, ...]
    dearer: tuple[float, ...]


def is_short(draft: Draft) -> bool:
    """Whether crews are at work for most of their hours all along; and nothing is fixed."""
    problem, makespan = draft.problem, draft.makespan
    if len(problem.free) < len(problem.nodes):
        return False
    there = sum(all_of([crew], [1]).between(0, makespan) for crew in problem.crews)
    options = [problem.nodes[k].options[option] for k, (option, _, _) in draft.places.items()]
    return sum(option.duration * len(option.crews) for option in options) > SHORT * there > 0


def improve_from_both_ends(draft: Draft, budget: Budget, until: float, bound: int) -> None:
    """Make ``draft`` better in place until ``until`` is spent or it ends at ``bound``."""
    problem = draft.problem
    chance = random.Random(1)
    work = TRY * sum(len(node.options) for node in problem.free)
    asked = _Asked(problem, _sooner(draft, bound))
    none = (0.0,) * len(problem.nodes)
    starts = [
        _Rule(back, rank, meet, FRONT, none, none) for meet, back, rank in product(MEET, BACK, range(len(asked.ranks)))
    ]
    rule, least, idle = starts[0], (FOREVER, FOREVER), 0
    tries = iter(starts)
    while budget.spent < until and not budget.over() and draft.makespan > bound:
        tried = next(tries, None)
        made = asked.made(tried := tried if tried is not None else _shaken(rule, chance))
        budget.spend(work)
        if made is None:
            continue
        excess = len(made.late()), sum(max(0, end - asked.end) for _, _, end in made.places.values())
        idle = 0 if excess < least else idle + 1
        if excess <= least:
            rule, least = tried, excess
        if made.cost() < draft.cost():
            draft.places = made.places
            budget.tell(draft)
        if least[1] == 0 or idle > PATIENCE:
            asked = _Asked(problem, _sooner(draft, bound))
            # What was good for another end is good for this one more often than not, met elsewhere.
            tries = iter([rule, *(replace(rule, meet=meet) for meet in MEET), *starts] if idle > PATIENCE else [rule])
            least, idle = (FOREVER, FOREVER), 0


def _sooner(draft: Draft, bound: int) -> int:
    return max(bound, int(draft.makespan * (1 - SOONER)))


def _shaken(rule: _Rule, chance: random.Random) -> _Rule:
    by, dearer = chance.choice((0.005, 0.02, 0.05)), chance.choice((0.0, 0.3))
    share = chance.choice((0.05, 0.3, 1.0))

    def shaken(values: tuple[float, ...], by: float) -> tuple[float, ...]:
        return tuple(v + chance.uniform(-by, by) if chance.random() < share else v for v in values)

    return _Rule(
        rule.back * chance.choice((0.8, 1.0, 1.0, 1.25)),
        rule.rank,
        min(0.95, max(0.3, rule.meet + chance.choice((0.0, 0.0, -0.04, 0.04)))),
        rule.front * chance.choice((0.8, 1.0, 1.0, 1.25)),
        shaken(rule.off, by),
        shaken(rule.dearer, dearer),
    )


class _Asked:
    """Schedules that are asked to end by ``end``."""

    def __init__(self, problem: Problem, end: int) -> None:
        self.problem = problem
        self.end = end
        self.back = mirrored(problem, end)
        self.ranks = ranks(self.back)

    def made(self, rule: _Rule) -> Draft | None:
        """None where the calendars end too soon."""
        turns = self.ranks[min(rule.rank, len(self.ranks) - 1)]
        span = max(turns) - min(turns)
        rank = [turn + span * off for turn, off in zip(turns, rule.off, strict=True)]
        price = [
            [value * (1 + more) for value in own]
            for own, more in zip(prices(self.back, rule.back), rule.dearer, strict=True)
        ]
        back = turned(parallel(self.back, rank, price).places, self.end)
        return _Meeting(self.problem, back, int(rule.meet * self.end), prices(self.problem, rule.front)).made()


class _Meeting:
    """Tasks that start at ``meet`` or later in ``back`` stay there while what they wait for ends in time."""

    def __init__(self, problem: Problem, back: dict[int, Place], meet: int, price: Prices) -> None:
        self.problem = problem
        self.price = price
        self.staying = {k: place for k, place in back.items() if place[1] >= meet}
        self.last = self._last_ends()
        nodes = problem.nodes
        self.rank = [back[k][1] if k in back else self.last[k] - nodes[k].length() for k in range(len(nodes))]
        self.timeline = Timeline(problem)
        for k, (option, start, end) in self.staying.items():
            self.timeline.take(nodes[k], nodes[k].options[option], start, end)
        self.places: dict[int, Place] = {}
        self.waits = [len(node.before) for node in nodes]
        self.since = [[0] * len(node.options) for node in nodes]
        self.heap: list[tuple[int, float, int]] = []

    def _last_ends(self) -> list[int]:
        """For each task the last end that keeps nothing of what stays from its place."""
        nodes = self.problem.nodes
        last = [0] * len(nodes)
        for k in reversed(self.problem.order):
            node = nodes[k]
            due = FOREVER if node.task.due is None else node.task.due
            last[k] = min(node.latest, due, *(self._last_start(j, last) - lag for j, lag in node.following), FOREVER)
        return last

    def _last_start(self, k: int, last: list[int]) -> int:
        return self.staying[k][1] if k in self.staying else latest_start(self.problem.nodes[k], last[k])

    def made(self) -> Draft | None:
        for k in self.problem.order:
            if not self.problem.nodes[k].before:
                self._ready(k)
        while self.heap:
            start, _, k = heapq.heappop(self.heap)
            node = self.problem.nodes[k]
            place = earliest_place(self.timeline, node, self._start_from(k), self.price[k], self.since[k])
            if place is None:
                return None
            if place[1] > start:
                heapq.heappush(self.heap, (place[1], self.rank[k], k))
                continue
            if place[2] > self.last[k]:
                place = earliest_place(self.timeline, node, self._start_from(k)) or place
            self.timeline.take(node, node.options[place[0]], place[1], place[2])
            self._put(k, place)
        return Draft(self.problem, self.places)

    def _put(self, k: int, place: Place) -> None:
        self.places[k] = place
        for j, _ in self.problem.nodes[k].following:
            self.waits[j] -= 1
            if self.waits[j] == 0:
                self._ready(j)

    def _ready(self, k: int) -> None:
        start_from = self._start_from(k)
        place = self.staying.get(k)
        if place is not None and place[1] >= start_from:
            self._put(k, place)
            return
        if place is not None:
            node = self.problem.nodes[k]
            self.timeline.give_back(node, node.options[place[0]], place[1], place[2])
            # There is room again where there was none.
            self.since = [[0] * len(node.options) for node in self.problem.nodes]
        heapq.heappush(self.heap, (start_from, self.rank[k], k))

    def _start_from(self, k: int) -> int:
        node = self.problem.nodes[k]
        return max([node.head, *(self.places[j][2] + lag for j, lag in node.before)])
