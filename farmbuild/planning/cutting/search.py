"""From pieces and sticks to the best plan that can be found and proven."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from farmbuild.planning.cutting.budget import Budget
from farmbuild.planning.cutting.core import Found, search
from farmbuild.planning.cutting.greedy import greedy_cuts
from farmbuild.planning.cutting.problem import Bin, Cuts, Pattern, Problem, bins_used, make_problem, served
from farmbuild.planning.cutting.stock import place, sort_kinds


@dataclass(frozen=True)
class Outcome:
    """The plan by size: (stock row, ((size, count), ...), times), sizes descending.

    ``bound`` is the proven least cost of serving as many pieces as ``cuts`` does; ``most_served`` whether serving
    no more of them is proven too.
    """

    cuts: tuple[tuple[int, tuple[tuple[int, int], ...], int], ...]
    bound: int
    most_served: bool
    method: str
    effort: float = 0.0


@dataclass(frozen=True)
class _Part:
    """A plan of one problem, on its own bins, with its bound and how both were come by."""

    problem: Problem
    cuts: Cuts
    bound: int
    method: str


def solve(
    pieces: Sequence[tuple[int, int]],
    stock: Sequence[tuple[int, int, int | None]],
    *,
    time_limit: float,
    effort: float | None = None,
    progress: Callable[[float, str], bool | None] | None = None,
) -> Outcome:
    """Pieces are (size, demand), stock (capacity, cost, quantity or None); kerfs are folded in already."""
    budget = Budget(time_limit, progress, effort)
    longest = max((c for c, _, q in stock if q != 0), default=0)
    wanted = [(s, d) for s, d in pieces if d and s <= longest]
    if not wanted:
        return Outcome((), 0, True, "nothing to cut")
    free = max((c for c, cost, q in stock if q is None and cost == 0), default=0)
    # Shortest first, so that of equal sticks the shortest is taken.
    order = sorted(range(len(stock)), key=lambda n: stock[n][0])
    bins = [Bin(*stock[n]) for n in order]
    parts: list[tuple[_Part, int]] = []
    most_served = True
    paid = [(s, d) for s, d in wanted if s > free]
    if paid:
        part, most_served = _paid(make_problem(paid, bins), budget)
        parts.append((part, math.gcd(*(s for s, _ in paid))))
    unpaid = [(s, d) for s, d in wanted if s <= free]
    if unpaid:
        only_free = [b if b.quantity is None and b.cost == 0 else replace(b, quantity=0) for b in bins]
        parts.append((_unpaid(make_problem(unpaid, only_free), budget), math.gcd(*(s for s, _ in unpaid))))
    cuts = tuple(
        (order[p.bin], tuple((part.problem.sizes[i] * unit, k) for i, k in p.counts), times)
        for part, unit in parts
        for p, times in sorted(part.cuts.items())
        if p.bin < len(stock)
    )
    method = "; ".join(part.method for part, _ in parts)
    if budget.ended:
        method += "; ended when asked"
    elif budget.late:
        method += "; stopped by the clock"
    effort = budget.spent / budget.limit * budget.effort if budget.limit else 0.0
    return Outcome(cuts, sum(part.bound for part, _ in parts), most_served, method, effort)


def _paid(problem: Problem, budget: Budget) -> tuple[_Part, bool]:
    """Least cost, leaving out as few pieces as can be when limited stock runs out."""
    start = greedy_cuts(problem)
    most_served = True
    if start is None:
        problem, start, most_served = _short(problem, budget)
    part = _least_cost(problem, start, budget)
    if sum(problem.bins[p.bin].cost * n for p, n in part.cuts.items()) == 0:
        tidy = _by_length(problem, part.cuts, budget)
        part = replace(part, cuts=tidy)
    return part, most_served


def _least_cost(problem: Problem, start: Cuts, budget: Budget) -> _Part:
    kinds = sort_kinds(problem)
    rough = greedy_cuts(kinds.problem)
    kind_of = {row: k for k, rows in enumerate(kinds.rows) for row in rows}
    if rough is None:
        rough = _as_kinds(kinds.problem, start, kind_of)
    found = search(kinds.problem, rough, budget)
    return _Part(problem, place(problem, kinds, found.cuts), found.bound, _told(found))


def _as_kinds(problem: Problem, cuts: Cuts, kind_of: dict[int, int]) -> Cuts:
    """A plan on single rows as one on kinds. A row that was left out has a kind without limit to stand in."""
    out: Cuts = {}
    for pattern, times in cuts.items():
        size = pattern.size(problem)
        kind = kind_of.get(pattern.bin)
        if kind is None:
            kind = next(
                k for k, b in enumerate(problem.bins) if b.quantity is None and not b.single and b.capacity >= size
            )
        moved = Pattern(kind, pattern.counts)
        out[moved] = out.get(moved, 0) + times
    return out


def _short(problem: Problem, budget: Budget) -> tuple[Problem, Cuts, bool]:
    """Find how few pieces have to be left out, and add that many empty places for them.

    Only pieces longer than every stick without limit can run short. An empty place is a bin for one piece.
    """
    boundless = max((b.capacity for b in problem.bins if b.quantity is None), default=0)
    long_ = [i for i, s in enumerate(problem.sizes) if s > boundless]
    spare = Bin(problem.sizes[0], 1, None, single=True)
    limited = tuple(replace(b, cost=0) if b.quantity is not None else replace(b, quantity=0) for b in problem.bins)
    served_first = Problem(
        tuple(problem.sizes[i] for i in long_),
        tuple(problem.demand[i] for i in long_),
        (*limited, spare),
    )
    start = greedy_cuts(served_first)
    assert start is not None
    part = _least_cost(served_first, start, budget)
    spare_row = len(problem.bins)
    left_out = bins_used(served_first, part.cuts)[spare_row]
    whole = Problem(problem.sizes, problem.demand, (*problem.bins, replace(spare, cost=0, quantity=left_out)))
    cuts = {Pattern(p.bin, tuple((long_[i], k) for i, k in p.counts)): n for p, n in part.cuts.items()}
    # The pieces that are not long fit a stick without limit, so the rest of this plan always exists.
    used = bins_used(whole, cuts)
    got = served(whole, cuts)
    rest = greedy_cuts(
        Problem(
            whole.sizes,
            tuple(max(0, d - g) for d, g in zip(whole.demand, got, strict=True)),
            tuple(
                b if b.quantity is None else replace(b, quantity=b.quantity - n)
                for b, n in zip(whole.bins, used, strict=True)
            ),
        )
    )
    assert rest is not None
    for pattern, times in rest.items():
        cuts[pattern] = cuts.get(pattern, 0) + times
    return whole, cuts, part.bound >= left_out


def _unpaid(problem: Problem, budget: Budget) -> _Part:
    start = greedy_cuts(problem)
    assert start is not None
    return _Part(problem, _by_length(problem, start, budget), 0, "sticks that cost nothing, least length")


def _by_length(problem: Problem, start: Cuts, budget: Budget) -> Cuts:
    """Where nothing has to be paid, use the least length of stick, with a small part of the time."""
    bins = (
        replace(b, cost=0 if b.single else b.capacity, quantity=b.quantity if b.cost == 0 else 0) for b in problem.bins
    )
    by_length = replace(problem, bins=tuple(bins))
    part = budget.part(0.1)
    cuts = _least_cost(by_length, start, part).cuts
    budget.late |= part.late
    budget.ended |= part.ended
    return cuts


def _told(found: Found) -> str:
    if found.proven:
        return f"proven: plan by {found.plan_by}, bound by {found.bound_by}"
    return f"not proven best: plan by {found.plan_by}, bound by {found.bound_by}"
