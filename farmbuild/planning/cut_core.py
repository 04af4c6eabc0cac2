"""The search itself: quick plan, pattern program and its bound, dives, and an exact last step."""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.planning.cut_bounds import length_bound, rounded
from farmbuild.planning.cut_budget import Budget
from farmbuild.planning.cut_dive import dive
from farmbuild.planning.cut_master import LinearProgramFailed, Master, generate
from farmbuild.planning.cut_patterns import Fillings
from farmbuild.planning.cut_problem import Cuts, Pattern, Problem, cuts_cost, trim


@dataclass
class Found:
    """The best plan and the best bound so far, and what each came from."""

    problem: Problem
    cuts: Cuts
    cost: int
    bound: int
    plan_by: str
    bound_by: str

    @property
    def proven(self) -> bool:
        return self.bound >= self.cost

    def offer(self, cuts: Cuts | None, by: str) -> bool:
        if cuts is None:
            return False
        cuts = trim(self.problem, cuts)
        cost = cuts_cost(self.problem, cuts)
        if cost >= self.cost:
            return False
        self.cuts, self.cost, self.plan_by = cuts, cost, by
        return True

    def raise_bound(self, bound: int, by: str) -> None:
        if bound > self.bound:
            self.bound, self.bound_by = bound, by


def search(problem: Problem, start: Cuts, budget: Budget) -> Found:
    """Improve on ``start`` until it is proven best or the budget is gone."""
    start = trim(problem, start)
    found = Found(
        problem, start, cuts_cost(problem, start), length_bound(problem), "filling by size", "the length needed"
    )
    if found.proven:
        return found
    master = Master(problem)
    fillings = Fillings(problem)
    master.add(start)
    before = 0

    def stop() -> bool:
        nonlocal before
        work = master.work + fillings.work
        budget.spend(work - before, "working out the least possible cost")
        before = work
        return budget.over(0.6)

    try:
        relaxed = generate(problem, fillings, master, stop=stop, ceiling=found.cost)
    except LinearProgramFailed:
        return found
    found.raise_bound(rounded(problem, relaxed.dual.bound), "the dual of the pattern program")
    if not found.proven:
        master.shed(relaxed.point, max(1500, 10 * len(problem.sizes)))
        _dives(problem, master, budget, found, share=0.5)
    return found


def _dives(problem: Problem, master: Master, budget: Budget, found: Found, *, share: float) -> None:
    avoid: set[Pattern] = set()
    for _ in range(60):
        if found.proven or budget.over(share):
            return
        dived = dive(
            problem, master, budget, aim=found.bound, target=found.cost - (problem.cost_step or 1), avoid=avoid
        )
        found.offer(dived.cuts, "diving")
        fresh = [p for p in dived.chosen[:3] if p not in avoid]
        if not fresh:
            return
        avoid.update(fresh)
