"""From pieces and sticks to the best plan that can be found and proven."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from farmbuild.planning.cut_greedy import greedy_cuts
from farmbuild.planning.cut_problem import Bin, cuts_cost, make_problem


@dataclass(frozen=True)
class Outcome:
    """``cuts``: (stock row, ((size, count), ...), times) with sizes descending. ``bound``: proven least
    cost.
    """

    cuts: tuple[tuple[int, tuple[tuple[int, int], ...], int], ...]
    bound: int
    method: str


def solve(
    pieces: Sequence[tuple[int, int]],
    stock: Sequence[tuple[int, int, int | None]],
    *,
    time_limit: float,
    progress: Callable[[float, str], None] | None = None,
) -> Outcome:
    """Pieces are (size, demand), stock (capacity, cost, quantity or None)."""
    longest = max((c for c, _, q in stock if q != 0), default=0)
    wanted = [(s, d) for s, d in pieces if d and s <= longest]
    if not wanted:
        return Outcome((), 0, "nothing to cut")
    unit = math.gcd(*(s for s, _ in wanted))
    rows = [n for n, (_, _, q) in enumerate(stock) if q != 0]
    problem = make_problem(wanted, [Bin(*stock[n]) for n in rows])
    cuts = greedy_cuts(problem)
    if cuts is None:
        return Outcome((), 0, "limited stock runs out")
    ratio = [(b.cost, b.capacity) for b in problem.bins]
    num, den = min(ratio, key=lambda r: r[0] / r[1])
    bound = problem.round_bound(problem.total_size * num, den)
    return Outcome(
        tuple(
            (rows[p.bin], tuple((problem.sizes[i] * unit, k) for i, k in p.counts), times)
            for p, times in cuts.items()
        ),
        min(bound, cuts_cost(problem, cuts)),
        "filled by size against the length needed",
    )
