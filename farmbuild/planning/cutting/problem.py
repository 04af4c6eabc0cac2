"""The cutting problem in its barest form: sizes, demands and bins, all whole numbers.

The kerf is folded in: a cut of length l takes l + kerf out of a stick counted as L + kerf, which lets the
last kerf run off the end. Sizes are divided by their greatest common divisor and capacities rounded down to
it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Bin:
    """One kind of stick: ``quantity`` None means as many as wanted; ``single`` holds one item at most."""

    capacity: int
    cost: int
    quantity: int | None
    single: bool = False


@dataclass(frozen=True)
class Problem:
    """Sizes are distinct and descending; ``demand[i]`` items of ``sizes[i]`` have to be placed at least
    cost.
    """

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    bins: tuple[Bin, ...]

    @cached_property
    def total_size(self) -> int:
        return sum(s * d for s, d in zip(self.sizes, self.demand, strict=True))

    @cached_property
    def largest_capacity(self) -> int:
        return max((b.capacity for b in self.bins), default=0)

    @cached_property
    def cost_step(self) -> int:
        """Every plan costs a multiple of this, so a lower bound may be rounded up to one."""
        return math.gcd(*(b.cost for b in self.bins)) if self.bins else 1

    def round_bound(self, numerator: int, denominator: int) -> int:
        """The least possible cost that is at least numerator / denominator."""
        step = self.cost_step
        if numerator <= 0 or step == 0:
            return 0
        return -(-numerator // (denominator * step)) * step


@dataclass(frozen=True, order=True)
class Pattern:
    """What is cut from one bin: (item, count) pairs in item order."""

    bin: int
    counts: tuple[tuple[int, int], ...]

    def size(self, problem: Problem) -> int:
        return sum(problem.sizes[i] * k for i, k in self.counts)


#: How often each pattern is cut.
Cuts = dict[Pattern, int]


def cuts_cost(problem: Problem, cuts: Cuts) -> int:
    return sum(problem.bins[p.bin].cost * times for p, times in cuts.items())


def pattern_fits(problem: Problem, pattern: Pattern) -> bool:
    held = problem.bins[pattern.bin]
    if held.single:
        return sum(k for _, k in pattern.counts) <= 1 and pattern.size(problem) <= held.capacity
    return pattern.size(problem) <= held.capacity


def served(problem: Problem, cuts: Cuts) -> list[int]:
    out = [0] * len(problem.sizes)
    for pattern, times in cuts.items():
        for i, k in pattern.counts:
            out[i] += k * times
    return out


def bins_used(problem: Problem, cuts: Cuts) -> list[int]:
    out = [0] * len(problem.bins)
    for pattern, times in cuts.items():
        out[pattern.bin] += times
    return out


def is_plan(problem: Problem, cuts: Cuts) -> bool:
    """Whether every demand is covered by patterns that fit, within the bins there are."""
    return (
        all(times > 0 and pattern_fits(problem, p) for p, times in cuts.items())
        and all(got >= d for got, d in zip(served(problem, cuts), problem.demand, strict=True))
        and all(
            b.quantity is None or n <= b.quantity for n, b in zip(bins_used(problem, cuts), problem.bins, strict=True)
        )
    )


def trim(problem: Problem, cuts: Cuts) -> Cuts:
    """Take out whatever is served beyond its demand; bins left empty go."""
    surplus = [got - d for got, d in zip(served(problem, cuts), problem.demand, strict=True)]
    out: Cuts = {}
    for pattern in sorted(cuts):
        left = cuts[pattern]
        while left:
            excess = [(i, min(k, surplus[i])) for i, k in pattern.counts if surplus[i] > 0]
            if not excess:
                out[pattern] = out.get(pattern, 0) + left
                break
            reps = min(min(left, surplus[i] // drop) for i, drop in excess)
            dropped = dict(excess)
            for i, drop in excess:
                surplus[i] -= drop * reps
            rest = tuple((i, k - dropped.get(i, 0)) for i, k in pattern.counts if k > dropped.get(i, 0))
            if rest:
                thinner = Pattern(pattern.bin, rest)
                out[thinner] = out.get(thinner, 0) + reps
            left -= reps
    return out


def make_problem(lengths: Iterable[tuple[int, int]], bins: Sequence[Bin]) -> Problem:
    """Build a problem from (size, demand) pairs; equal sizes are merged, sizes and capacities put on their
    gcd.
    """
    totals: dict[int, int] = {}
    for size, demand in lengths:
        if demand > 0:
            totals[size] = totals.get(size, 0) + demand
    sizes = sorted(totals, reverse=True)
    unit = math.gcd(*sizes) if sizes else 1
    return Problem(
        sizes=tuple(s // unit for s in sizes),
        demand=tuple(totals[s] for s in sizes),
        bins=tuple(Bin(b.capacity // unit, b.cost, b.quantity, b.single) for b in bins),
    )
