"""Better orders of a plain project: a population of task lists, bred and read forwards and backwards in turn.

Each list is made into a schedule (serial generation), whose ends give the list for the other direction. That is the
genetic algorithm with two populations of Debels and Vanhoucke (Lecture Notes in Computer Science 3483, 2005); its
turns are the justification of Valls, Ballestín and Quintanilla (European Journal of Operational Research 165, 2005).
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.draft import Draft
from farmbuild.planning.scheduling.plain import Order, Plain

#: Effort of placing a task, and of passing one step of time on the way.
PLACE = 2.0e-7
PASS = 1.0e-8
#: Lists of one direction: so that about so many generations fit into the work allowed, within limits.
GENERATIONS = 250
FEWEST, MOST = 20, 400
#: How long the stretch of a list is, as a share of it, that is ordered as in the other parent.
STRETCH = (0.25, 0.75)


@dataclass(eq=False)
class _Member:
    """A list for the other direction, and how long the schedule behind it is."""

    length: int
    order: Order
    rank: list[int]


class Breeding:
    """``best`` is the shortest schedule so far: the end of each task, in steps."""

    def __init__(self, plain: Plain, budget: Budget, until: float, bound: int) -> None:
        self.plain = plain
        self.budget = budget
        self.until = until
        self.bound = bound
        self.chance = random.Random(1)
        self.length = plain.steps + 1
        self.best: list[int] = []
        self._orders = plain.order[::-1], list(plain.order)

    def go_on(self) -> bool:
        return self.length > self.bound and self.budget.spent < self.until and not self.budget.over()

    def read(self, order: Order, forwards: bool) -> _Member:
        plain = self.plain
        end, passed = plain.forwards(order) if forwards else plain.backwards(order)
        self.budget.spend(PLACE * len(order) + PASS * passed)
        length = max(end)
        if forwards and length < self.length:
            self.length, self.best = length, end
        # Sorting keeps what ends together as it stood, so that marks in time stay after what they wait for.
        following = sorted(self._orders[not forwards], key=end.__getitem__, reverse=True)
        rank = [0] * len(order)
        for place, k in enumerate(following):
            rank[k] = place
        return _Member(length, following, rank)

    def into(self, draft: Draft) -> None:
        step, duration = self.plain.step, self.plain.duration
        if self.best and self.length * step < draft.makespan:
            draft.places = {k: (0, (end - duration[k]) * step, end * step) for k, end in enumerate(self.best)}

    def first(self, spread: float) -> Order:
        """The tasks with most behind them go first, each task's own time being taken ``spread`` longer at most."""
        plain, chance = self.plain, self.chance
        behind = [0.0] * len(plain.order)
        for k in reversed(plain.order):
            own = plain.duration[k] + chance.uniform(0, spread)
            behind[k] = own + max((behind[j] + lag for j, lag in plain.behind[k]), default=0.0)
        return sorted(plain.order, key=behind.__getitem__, reverse=True)

    def child(self, parent: _Member, other: _Member) -> Order:
        order = parent.order
        length = int(self.chance.uniform(*STRETCH) * len(order))
        first = self.chance.randrange(len(order) - length + 1)
        last = first + length
        return [*order[:first], *sorted(order[first:last], key=other.rank.__getitem__), *order[last:]]

    def better(self, members: list[_Member]) -> _Member:
        one, other = self.chance.choice(members), self.chance.choice(members)
        return min(one, other, key=_length)


def _length(member: _Member) -> int:
    return member.length


def breed(draft: Draft, plain: Plain, budget: Budget, until: float, bound: int) -> None:
    """Make ``draft`` shorter in place until so much of the budget is spent or it ends at ``bound``."""
    breeding = Breeding(plain, budget, until, -(-bound // plain.step))
    starts = [draft.places[k][1] for k in range(len(plain.order))]
    members = [breeding.read(sorted(plain.order, key=starts.__getitem__), True)]
    begun = budget.spent
    usual = sum(plain.duration) / len(plain.duration)
    while len(members) < FEWEST and breeding.go_on():
        members.append(breeding.read(breeding.first(usual * len(members) / FEWEST), True))
    each = max((budget.spent - begun) / FEWEST, 1e-9)
    size = min(MOST, max(FEWEST, int((until - begun) / each / GENERATIONS)))
    while len(members) < size and breeding.go_on():
        members.append(breeding.read(breeding.first(usual * len(members) / size), True))
    forwards = False
    before: list[_Member] = []
    while breeding.go_on():
        breeding.into(draft)
        budget.tell(draft)
        grown = []
        for parent in members:
            grown.append(breeding.read(breeding.child(parent, breeding.better(members)), forwards))
            if not breeding.go_on():
                break
        # The best of this direction is not lost by what came of it.
        if before and (kept := min(before, key=_length)).length < min(grown, key=_length).length:
            grown[grown.index(max(grown, key=_length))] = kept
        before, members = members, grown
        forwards = not forwards
    breeding.into(draft)
