"""Better schedules part by part: some tasks are freed, the others stay, and a small model places the free ones anew.

Large neighbourhood search (Shaw, Principles and Practice of Constraint Programming, 1998).
"""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass

from farmbuild.planning.work_budget import TRY, Budget
from farmbuild.planning.work_draft import Draft
from farmbuild.planning.work_greedy import Prices, Rank, parallel, prices, shaken
from farmbuild.planning.work_model import Goal, Model
from farmbuild.planning.work_problem import Problem
from farmbuild.planning.work_room import room

#: Effort of one part.
PART = 0.12
#: Share of the effort that goes to shaken rules of thumb first, where tasks have ways to choose from.
SHAKING = 0.35


def improve(draft: Draft, rule: tuple[Rank, Prices | None], budget: Budget, share: float, bound: int) -> None:
    """Make ``draft`` better in place until ``share`` of the budget is spent or it ends at ``bound``."""
    chance = random.Random(1)
    _shake(draft, rule, budget, budget.spent + SHAKING * (share * budget.limit - budget.spent), bound, chance)
    picker = _Picker(draft.problem, chance)
    size = 24
    while not budget.over(share) and not _done(draft, bound):
        free = picker.pick(draft, size)
        budget.tell(f"Ends at slot {draft.makespan}, {len(draft.late())} late")
        proven = _improve_part(draft, free, budget)
        # Parts that are settled at once may as well be larger.
        size = min(80, size + 1) if proven else max(12, size - 1)


def _done(draft: Draft, bound: int) -> bool:
    return draft.makespan <= bound and not draft.late()


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
        budget.tell(f"Ends at slot {draft.makespan}, {len(draft.late())} late")
        if not made.failed and not made.missed and made.cost() < draft.cost():
            draft.places = made.places
            rank, factor = tried_rank, tried_factor


def _improve_part(draft: Draft, free: list[int], budget: Budget) -> bool:
    problem = draft.problem
    chosen = set(free)
    staying = {k: place for k, place in draft.places.items() if k not in chosen}
    horizon = draft.makespan
    spare = room(problem, free, staying, horizon, in_time=False)
    model = Model(problem, spare, staying, horizon, GOAL)
    model.hint(draft.places)
    solved = model.solve(min(PART, max(budget.left, 0.01)), max(0.1, budget.seconds_left))
    budget.spend(solved.work + 0.01)
    if solved.places is not None:
        draft.places = {**staying, **solved.places}
    return solved.proven


#: A late job outweighs any makespan, and the makespan outweighs what the parts end earlier.
GOAL = Goal(late=10**7, after=100, each_end=1)


@dataclass
class _Picker:
    problem: Problem
    chance: random.Random

    def pick(self, draft: Draft, size: int) -> list[int]:
        nodes = [node.index for node in self.problem.free]
        if len(nodes) <= size:
            return nodes
        kind = self.chance.random()
        if kind < 0.5:
            return self._around(draft, nodes, self.chance.uniform(0, draft.makespan), size)
        if kind < 0.75:
            return self._around(draft, nodes, self.chance.uniform(0.75, 1.0) * draft.makespan, size)
        return self._jobs(draft, nodes, size)

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
