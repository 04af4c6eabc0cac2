"""Whole-number plans by diving: fix the patterns the linear program likes best, solve it for what is left, repeat.

Patterns are generated anew on the way down, so that the rest still fits together (see Sadykov, Vanderbeck,
Pessoa, Tahiri and Uchoa, INFORMS Journal on Computing 31, 2019).
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.greedy import greedy_cuts, greedy_work
from farmbuild.planning.cutting.master import TOLERANCE, LinearProgramFailed, Master, Point
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.problem import Cuts, Pattern, Problem, cuts_cost

#: Pattern generations at one level of a dive.
ROUNDS = 40
#: Kinds of sticks up to which fillings are sought over true lengths on the way down as well.
FEW_BINS = 4


@dataclass(frozen=True)
class Dived:
    """The best plan met (None: none within the target) and the single patterns chosen, first ones first."""

    cuts: Cuts | None
    chosen: tuple[Pattern, ...]


def dive(
    problem: Problem,
    master: Master,
    budget: Budget,
    *,
    aim: int,
    target: int,
    avoid: AbstractSet[Pattern] = frozenset(),
) -> Dived:
    """Look for a plan of cost ``target`` or less, contented with ``aim``; choices in ``avoid`` come last."""
    left = list(problem.demand)
    stock = [b.quantity for b in problem.bins]
    fixed: Cuts = {}
    cost = 0
    best: Cuts | None = None
    chosen: list[Pattern] = []
    while True:
        rest = _quick_rest(problem, left, stock, budget)
        if rest is not None and cost + cuts_cost(problem, rest) <= target:
            best = _joined(fixed, rest)
            target = cost + cuts_cost(problem, rest) - 1
            if target < aim:
                break
        if not any(left) or budget.over():
            break
        try:
            point = _settled(problem, master, budget, left, stock, cost, aim)
        except LinearProgramFailed:
            break
        if cost + point.cost > target + 1e-6 * max(1, target):
            break
        steps = _steps(master, point, left, stock, avoid)
        if not steps:
            break
        if steps[0][2]:
            chosen.append(steps[0][0])
        for pattern, times, _ in steps:
            fixed[pattern] = fixed.get(pattern, 0) + times
            cost += times * problem.bins[pattern.bin].cost
    return Dived(best, tuple(chosen))


def _quick_rest(problem: Problem, left: list[int], stock: list[int | None], budget: Budget) -> Cuts | None:
    rows = [i for i, d in enumerate(left) if d]
    rest = Problem(
        tuple(problem.sizes[i] for i in rows),
        tuple(left[i] for i in rows),
        tuple(replace(b, quantity=q) for b, q in zip(problem.bins, stock, strict=True)),
    )
    cuts = greedy_cuts(rest)
    if cuts is None:
        return None
    budget.spend(greedy_work(rest, cuts))
    return {Pattern(p.bin, tuple((rows[i], k) for i, k in p.counts)): times for p, times in cuts.items()}


def _joined(first: Cuts, second: Cuts) -> Cuts:
    out = dict(first)
    for pattern, times in second.items():
        out[pattern] = out.get(pattern, 0) + times
    return out


def _settled(
    problem: Problem,
    master: Master,
    budget: Budget,
    left: list[int],
    stock: list[int | None],
    cost: int,
    aim: int,
) -> Point:
    """The linear program of the rest, with new patterns until its cost is within the aim or none helps."""
    fillings = Fillings(problem, left)
    few = len(problem.bins) <= FEW_BINS
    master.restrict(left, stock)
    for _ in range(ROUNDS):
        before = master.work + fillings.work
        point = master.solve()
        done = cost + point.cost <= aim + 1e-6 * max(1, aim)
        if not done:
            scale = max(1, int(2.0**44 / (max(point.values, default=0.0) or 1.0)))
            prices = [
                int((b.cost + rent) * (1 + TOLERANCE) * scale) + 1
                for b, rent in zip(problem.bins, point.rents, strict=True)
            ]
            priced = fillings.price([int(v * scale) for v in point.values], prices, wide=True, settle=few)
            done = master.add(priced.patterns) == 0
        budget.spend(master.work + fillings.work - before, "trying whole-number plans")
        if done or budget.over():
            break
    return point


def _steps(
    master: Master, point: Point, left: list[int], stock: list[int | None], avoid: AbstractSet[Pattern]
) -> list[tuple[Pattern, int, bool]]:
    """Patterns to fix now, with how often and whether it was a guess; takes them off ``left`` and ``stock``."""
    ranked = sorted(
        (a for a, x in enumerate(point.amounts) if x > 1e-6),
        key=lambda a: (-round(point.amounts[a], 6), master.patterns[a]),
    )

    def room(pattern: Pattern) -> int:
        times = min(left[i] // k for i, k in pattern.counts)
        have = stock[pattern.bin]
        return times if have is None else min(times, have)

    def take(pattern: Pattern, times: int) -> None:
        for i, k in pattern.counts:
            left[i] -= k * times
        have = stock[pattern.bin]
        if have is not None:
            stock[pattern.bin] = have - times

    steps = []
    for a in ranked:
        times = min(int(point.amounts[a] + 1e-6), room(master.patterns[a]))
        if times > 0:
            take(master.patterns[a], times)
            steps.append((master.patterns[a], times, False))
    if steps:
        return steps
    open_ = [master.patterns[a] for a in ranked[:20] if room(master.patterns[a])]
    pick = next((p for p in open_ if p not in avoid), open_[0] if open_ else None)
    if pick is None:
        return []
    take(pick, 1)
    return [(pick, 1, True)]
