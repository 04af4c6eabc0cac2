"""A better plan from one at hand: a few sticks are taken back, and what was cut from them is planned anew.

Large neighbourhood search (Shaw, Principles and Practice of Constraint Programming, 1998). Sticks are taken whose
pieces are worth the least against what they cost, and others by chance, so that their waste comes together. Chance is
drawn from a seed: the same plan is changed in the same way.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace

from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.problem import Bin, Cuts, Pattern, Problem, cuts_cost

#: Sticks taken back at once, to begin with, at least and at most.
FIRST, FEWEST, MOST = 10, 6, 60
#: Share of the budget that one part may take.
PART = 0.1
#: Parts in a row that gain nothing before it is left.
PATIENCE = 30

Plan = Callable[[Problem, Cuts, Budget], Cuts]


def improve(
    problem: Problem,
    cuts: Cuts,
    values: Sequence[float],
    budget: Budget,
    *,
    plan: Plan,
    done: Callable[[Cuts, int], bool],
) -> Cuts:
    """A plan no dearer. ``values``: what a piece of each size is worth; ``plan`` improves a plan of a part; ``done``
    says of a plan and its cost that they are good enough."""
    chance = random.Random(1)
    best, cost = dict(cuts), cuts_cost(problem, cuts)
    size, idle = FIRST, 0
    while not budget.over() and not done(best, cost) and idle < PATIENCE:
        taken = _taken(problem, best, values, size, chance)
        rest = {pattern: times - taken.get(pattern, 0) for pattern, times in best.items()}
        part, sizes, bins = _part(problem, taken, rest)
        own = budget.part(PART)
        found = plan(part, _inside(taken, sizes, bins), own)
        budget.spend(own.spent)
        budget.ended |= own.ended
        gain = cuts_cost(problem, taken) - cuts_cost(part, found)
        if gain > 0:
            best = {pattern: times for pattern, times in rest.items() if times}
            for pattern, times in _outside(found, sizes, bins).items():
                best[pattern] = best.get(pattern, 0) + times
            cost -= gain
            idle = 0
        else:
            idle += 1
            # What is settled at once may as well be larger.
            size = min(MOST, size + 1) if own.spent < own.limit / 4 else max(FEWEST, size - 1)
    return best


def _taken(problem: Problem, cuts: Cuts, values: Sequence[float], size: int, chance: random.Random) -> Cuts:
    """Sticks by how much they cost over what is in them, with chance in it, and so many of them."""

    def loss(pattern: Pattern) -> float:
        return problem.bins[pattern.bin].cost - sum(values[i] * k for i, k in pattern.counts)

    ranked = sorted(cuts, key=lambda pattern: (-(loss(pattern) + 1e-9) * chance.random(), pattern))
    near = [pattern for pattern in ranked if chance.random() < 0.8] or ranked
    taken: Cuts = {}
    left = size
    for pattern in near:
        if not left:
            break
        times = min(left, cuts[pattern], chance.randint(1, 3))
        taken[pattern] = times
        left -= times
    return taken


def _part(problem: Problem, taken: Cuts, rest: Cuts) -> tuple[Problem, list[int], list[int]]:
    """The problem of these sticks alone, and which sizes and bins of the whole its own are."""
    wanted = [0] * len(problem.sizes)
    for pattern, times in taken.items():
        for i, k in pattern.counts:
            wanted[i] += k * times
    used = [0] * len(problem.bins)
    for pattern, times in rest.items():
        used[pattern.bin] += times
    sizes = [i for i, n in enumerate(wanted) if n]
    bins: list[int] = []
    own: list[Bin] = []
    for n, one in enumerate(problem.bins):
        left = None if one.quantity is None else one.quantity - used[n]
        if left is None or left > 0:
            bins.append(n)
            own.append(replace(one, quantity=left))
    return Problem(tuple(problem.sizes[i] for i in sizes), tuple(wanted[i] for i in sizes), tuple(own)), sizes, bins


def _inside(cuts: Cuts, sizes: list[int], bins: list[int]) -> Cuts:
    size_at, bin_at = ({n: at for at, n in enumerate(of)} for of in (sizes, bins))
    return {Pattern(bin_at[p.bin], tuple((size_at[i], k) for i, k in p.counts)): n for p, n in cuts.items()}


def _outside(cuts: Cuts, sizes: list[int], bins: list[int]) -> Cuts:
    return {Pattern(bins[p.bin], tuple((sizes[i], k) for i, k in p.counts)): n for p, n in cuts.items()}
