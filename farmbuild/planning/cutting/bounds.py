"""Proven lower bounds: dual prices checked in whole-number arithmetic.

For any piece values v >= 0 and any amounts K[b] that no filling of bin b exceeds, every plan costs at least
sum(demand * v) - sum over limited bins of quantity * max(0, K[b] - cost[b]), provided K[b] <= cost[b] for bins
without limit (the dual of the pattern program; scaling v down by the worst ratio, as in Farley, Operations
Research 38, 1990, makes any values fit). No rounding enters, so the bound needs no trust in floating point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from farmbuild.planning.cutting.problem import Problem


@dataclass(frozen=True)
class Dual:
    """Piece values and bin prices in units of 1 / ``scale`` of a cost unit, feasible, with their exact bound."""

    values: tuple[int, ...]
    prices: tuple[int, ...]
    scale: int
    bound: Fraction


def dual_bound(problem: Problem, values: Sequence[int], most: Sequence[int], scale: int) -> Dual:
    """The best bound from ``values`` (whole, in 1 / scale) when bin b can hold no more than ``most[b]`` of value."""
    shrink = Fraction(1)
    for held, worth in zip(problem.bins, most, strict=True):
        if held.quantity is None and worth > held.cost * scale:
            shrink = min(shrink, Fraction(held.cost * scale, worth))
    if shrink < 1:
        values = [v * shrink.numerator // shrink.denominator for v in values]
        # Rounding each value down cannot raise what a bin holds above the scaled-down amount.
        most = [m * shrink.numerator // shrink.denominator for m in most]
    prices = []
    total = sum(d * v for d, v in zip(problem.demand, values, strict=True))
    for held, worth in zip(problem.bins, most, strict=True):
        price = held.cost * scale
        if held.quantity is not None and worth > price:
            total -= held.quantity * (worth - price)
            price = worth
        prices.append(price)
    return Dual(tuple(values), tuple(prices), scale, Fraction(total, scale))


def length_bound(problem: Problem) -> int:
    """Least cost of enough length, taking the cheapest length first."""
    need = problem.total_size
    cost = Fraction(0)
    largest, smallest = (problem.sizes[0], problem.sizes[-1]) if problem.sizes else (0, 0)
    held = [(min(b.capacity, largest) if b.single else b.capacity, b) for b in problem.bins]
    useful = [(capacity, b) for capacity, b in held if capacity >= max(1, smallest)]
    for capacity, b in sorted(useful, key=lambda row: (Fraction(row[1].cost, row[0]), row[0])):
        have = need if b.quantity is None else min(need, b.quantity * capacity)
        cost += Fraction(b.cost * have, capacity)
        need -= have
        if not need:
            break
    return problem.round_bound(cost.numerator, cost.denominator)


def rounded(problem: Problem, bound: Fraction) -> int:
    return problem.round_bound(bound.numerator, bound.denominator)
