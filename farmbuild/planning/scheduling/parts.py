"""Better schedules part by part: some tasks are freed, the others stay, and a small model places the free ones anew.

Large neighbourhood search (Shaw, Principles and Practice of Constraint Programming, 1998).
"""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass

from farmbuild.planning.scheduling.both_ends import improve_from_both_ends, is_short
from farmbuild.planning.scheduling.budget import TRY, Budget
from farmbuild.planning.scheduling.draft import Draft
from farmbuild.planning.scheduling.greedy import Prices, Rank, parallel, prices, shaken
from farmbuild.planning.scheduling.model import Goal, Model
from farmbuild.planning.scheduling.problem import Problem
from farmbuild.planning.scheduling.room import room

#: Effort of one part.
PART = 0.12
#: Share of the effort that goes to shaken rules of thumb first, where tasks have ways to choose from.
SHAKING = 0.35
#: Share that goes to schedules from both ends instead, where crews are short all along.
FROM_BOTH_ENDS = 0.6

#: The last so many tasks are placed anew together, and the effort that goes to it each time.
ENDS = (40, 60, 80)
END = 1.5
#: How much sooner than now they are asked to end: as a share of what lies between the bound and now.
SOONER = (0.05, 0.4)


def improve(draft: Draft, rule: tuple[Rank, Prices | None], budget: Budget, share: float, bound: int) -> None:
    """Make ``draft`` better in place until ``share`` of the budget is spent or it ends at ``bound``."""
    chance = random.Random(1)
    if is_short(draft):
        until = budget.spent + FROM_BOTH_ENDS * (share * budget.limit - budget.spent)
        improve_from_both_ends(draft, budget, until, bound)
        _end(draft, budget, share, bound)
    else:
        _end(draft, budget, share, bound)
        _shake(draft, rule, budget, budget.spent + SHAKING * (share * budget.limit - budget.spent), bound, chance)
    picker = _Picker(draft.problem, chance, bound)
    # A late job outweighs all else, and what ends after the bound outweighs what merely ends earlier.
    goals = [Goal(late=10**7, after=40, ends=bound, beyond=10, each_end=1)] * 2
    goals.append(Goal(late=10**7, after=40, ends=bound, beyond=10))
    parts = 0
    size = 24
    while not budget.over(share) and not _done(draft, bound):
        free = picker.pick(draft, size)
        budget.tell(draft)
        proven = _improve_part(draft, free, budget, goals[parts % len(goals)])
        parts += 1
        # Parts that are settled at once may as well be larger.
        size = min(80, size + 1) if proven else max(12, size - 1)


def _done(draft: Draft, bound: int) -> bool:
    return draft.makespan <= bound and not draft.late()


def _end(draft: Draft, budget: Budget, share: float, bound: int) -> None:
    """Place the last tasks anew so that they end sooner, nothing else counting; more of them when it cannot be.

    Much sooner is asked for first: it is settled faster, since it leaves fewer places to go to.
    """
    sizes = list(ENDS)
    asked = list(SOONER)
    while sizes and draft.makespan > bound and not budget.over(share):
        horizon = bound + int((draft.makespan - 1 - bound) * asked[0])
        if _end_by(draft, sizes[0], horizon, budget, share):
            asked = list(SOONER)
            continue
        asked.pop(0)
        if not asked:
            sizes.pop(0)
            asked = list(SOONER)


def _end_by(draft: Draft, size: int, horizon: int, budget: Budget, share: float) -> bool:
    problem = draft.problem
    nodes = sorted(problem.free, key=lambda node: (-draft.places[node.index][1], node.index))
    free = {node.index for node in nodes[:size]}
    staying = {k: place for k, place in draft.places.items() if k not in free}
    if max((place[2] for place in staying.values()), default=0) > horizon:
        return False
    late = len(draft.late())
    spare = room(problem, free, staying, horizon, in_time=() if late else range(len(problem.jobs)))
    if spare.empty:
        return False
    model = Model(problem, spare, staying, horizon, Goal(ends=horizon, at_most_late=late if late else None))
    work = min(END, max(0.01, share * budget.limit - budget.spent))
    solved = model.solve(work, max(0.1, budget.seconds_left))
    budget.spend(solved.work + 0.02)
    budget.tell(draft)
    if solved.places is None:
        return False
    draft.places = {**staying, **solved.places}
    return True


def _shake(
    draft: Draft, rule: tuple[Rank, Prices | None], budget: Budget, until: float, bound: int, chance: random.Random
) -> None:
    """Rules of thumb, each a little off; what turns out better is shaken further."""
    problem = draft.problem
    rank, price = rule
    factor = 2.0
    work = 5 * TRY * sum(len(node.options) for node in problem.free)
    spread = (max(rank, default=0) - min(rank, default=0)) or 1.0
    while budget.spent < until and not budget.over() and not _done(draft, bound):
        by = spread * chance.choice((0.01, 0.03, 0.1))
        tried_rank = shaken(rank, by, chance)
        tried_factor = factor * chance.choice((0.7, 1.0, 1.4))
        tried_price = prices(problem, tried_factor) if chance.random() < 0.5 or price is not None else None
        made = parallel(problem, tried_rank, tried_price)
        budget.spend(work)
        budget.tell(draft)
        if not made.failed and not made.missed and made.cost() < draft.cost():
            draft.places = made.places
            rank, factor = tried_rank, tried_factor


def _improve_part(draft: Draft, free: list[int], budget: Budget, goal: Goal) -> bool:
    problem = draft.problem
    chosen = set(free)
    staying = {k: place for k, place in draft.places.items() if k not in chosen}
    horizon = draft.makespan
    spare = room(problem, free, staying, horizon)
    model = Model(problem, spare, staying, horizon, goal)
    model.hint(draft.places)
    solved = model.solve(min(PART, max(budget.left, 0.01)), max(0.1, budget.seconds_left))
    budget.spend(solved.work + 0.01)
    if solved.places is not None:
        draft.places = {**staying, **solved.places}
    return solved.proven


@dataclass
class _Picker:
    problem: Problem
    chance: random.Random
    bound: int

    def pick(self, draft: Draft, size: int) -> list[int]:
        nodes = [node.index for node in self.problem.free]
        if len(nodes) <= size:
            return nodes
        kind = self.chance.random()
        beyond = [k for k in nodes if draft.places[k][2] > self.bound]
        if kind < 0.5 and beyond:
            return self._ahead_of(draft, nodes, self.chance.choice(beyond), size)
        if kind < 0.8:
            return self._around(draft, nodes, self.chance.uniform(0, draft.makespan), size)
        return self._jobs(draft, nodes, size)

    def _ahead_of(self, draft: Draft, nodes: list[int], cause: int, size: int) -> list[int]:
        """A task that ends after the bound, some of what it waits for, and what goes on when that starts."""
        chain = [cause]
        while self.chance.random() < 0.8:
            before = [j for j, _ in self.problem.nodes[chain[-1]].before if self.problem.nodes[j].fixed is None]
            if not before:
                break
            chain.append(max(before, key=lambda j: (draft.places[j][2], j)))
        spot = self.chance.uniform(draft.places[chain[-1]][1] - 0.02 * draft.makespan, draft.places[chain[-1]][2])
        near = [k for k in self._around(draft, nodes, spot, size) if k not in chain]
        return chain + near[: max(0, size - len(chain))]

    def _around(self, draft: Draft, nodes: list[int], slot: float, size: int) -> list[int]:
        def far(k: int) -> tuple[float, int]:
            _, start, end = draft.places[k]
            return max(start - slot, slot - end, 0.0), k

        return sorted(nodes, key=far)[:size]

    def _jobs(self, draft: Draft, nodes: list[int], size: int) -> list[int]:
        by_job: dict[str, list[int]] = defaultdict(list)
        for k in nodes:
            by_job[self.problem.nodes[k].task.job].append(k)
        if len(by_job) < 2:
            return self._around(draft, nodes, self.chance.uniform(0, draft.makespan), size)
        names = sorted(by_job, key=lambda name: (-max(draft.places[k][2] for k in by_job[name]), name))
        # The jobs that end last, more often than others.
        picked: list[int] = []
        while names and len(picked) < size:
            at = min(len(names) - 1, int(self.chance.expovariate(4 / len(names))))
            picked.extend(by_job[names.pop(at)])
        return picked
