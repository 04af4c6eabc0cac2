"""The last step: every pattern that a better plan could use, and an exact search over those.

A plan of cost at most t cannot use a pattern whose cost exceeds its worth at dual values by more than t less the
dual's bound. When those patterns can be listed, a search over the list settles the question either way.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from farmbuild.planning.cutting.bounds import Dual
from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.problem import Cuts, Pattern, Problem, cuts_cost
from farmbuild.planning.solver import plain_solver

#: Patterns beyond which a list is not searched to the end, and not searched at all.
LISTED = 12_000
#: Counted work of one unit of the solver's own deterministic time.
WORK_PER_UNIT = 1_500_000_000
#: Largest number the solver is given.
LARGEST = 1 << 50


@dataclass(frozen=True)
class Settled:
    """The best plan found (None: none within the target) and the proven least cost (None: nothing proven)."""

    cuts: Cuts | None
    bound: int | None


@dataclass(frozen=True)
class Listed:
    """Patterns that a plan of cost ``target`` might use; ``whole``: all of them that take no further piece.

    ``slack`` is what such a plan may lose against the dual, in the dual's units.
    """

    patterns: list[Pattern]
    target: int
    slack: int
    whole: bool


def candidates(fillings: Fillings, dual: Dual, target: int, most: int = LISTED) -> Listed:
    """List the patterns for ``target``; where they are too many, those nearest to paying their way."""
    slack = int((target - dual.bound) * dual.scale) + 1
    patterns: list[Pattern] | None = []
    reach = slack
    if slack >= 0:
        patterns = fillings.near(dual.values, dual.prices, reach, most)
        while patterns is None and reach > slack >> 12:
            reach //= 4
            patterns = fillings.near(dual.values, dual.prices, reach, most)
    return Listed(patterns or [], target, slack, whole=patterns is not None and reach == slack)


def settle(
    problem: Problem, dual: Dual, listed: Listed, budget: Budget, *, low: int, share: float, hint: Cuts
) -> Settled:
    """Least cost over the listed patterns, between ``low`` and the target."""
    patterns, target, whole = listed.patterns, listed.target, listed.whole
    nothing = Settled(None, target + (problem.cost_step or 1) if whole else None)
    if len({i for p in patterns for i, _ in p.counts}) < len(problem.sizes):
        return nothing
    model = cp_model.CpModel()
    cover: list[list[tuple[cp_model.IntVar, int]]] = [[] for _ in problem.sizes]
    drawn: list[list[cp_model.IntVar]] = [[] for _ in problem.bins]
    amounts = []
    for pattern in patterns:
        held = problem.bins[pattern.bin]
        most = max(-(-problem.demand[i] // k) for i, k in pattern.counts)
        if held.quantity is not None:
            most = min(most, held.quantity)
        if held.cost:
            most = min(most, target // held.cost)
        if most > LARGEST:
            return Settled(None, None)
        amount = model.new_int_var(0, most, "")
        amounts.append(amount)
        drawn[pattern.bin].append(amount)
        for i, k in pattern.counts:
            cover[i].append((amount, k))
    if target > LARGEST or max(problem.demand) > LARGEST:
        return Settled(None, None)
    for row, demand, value in zip(cover, problem.demand, dual.values, strict=True):
        total = sum(k * amount for amount, k in row)
        # A piece too many loses its value; where that is more than may be lost, none is.
        model.add(total == demand if whole and value > listed.slack else total >= demand)
    for held, row_ in zip(problem.bins, drawn, strict=True):
        if held.quantity is not None and row_:
            model.add(sum(row_) <= held.quantity)
    for pattern, amount in zip(patterns, amounts, strict=True):
        model.add_hint(amount, hint.get(pattern, 0))
    cost = sum(problem.bins[p.bin].cost * a for p, a in zip(patterns, amounts, strict=True))
    model.add(cost >= low)
    model.add(cost <= target)
    model.minimize(cost)
    solver = plain_solver()
    solver.parameters.linearization_level = 2
    units = max(0.0, share * budget.limit - budget.spent) / WORK_PER_UNIT
    solver.parameters.max_deterministic_time = units
    solver.parameters.max_time_in_seconds = max(0.01, budget.seconds_left)
    status = solver.solve(model)
    used = solver.response_proto.deterministic_time
    budget.spend(int(used * WORK_PER_UNIT), "searching all patterns that could still help")
    if status == cp_model.INFEASIBLE:
        return nothing
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        cuts = {p: n for p, a in zip(patterns, amounts, strict=True) if (n := solver.value(a))}
        done = status == cp_model.OPTIMAL
        bound = cuts_cost(problem, cuts) if done else None
        if not done and used < 0.9 * units:
            budget.over(0)
        return Settled(cuts, bound if whole else None)
    return Settled(None, None)
