"""Sticks sorted for the search, and the sticks the plan is in the end cut from.

Sticks that hold the same fillings at the same cost are one kind; a stick that a cheaper one without limit can
stand in for is left out. Afterwards each filling moves to the stick that suits it best: least cost, then on
hand, then shortest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from farmbuild.planning.cutting.problem import Bin, Cuts, Pattern, Problem

#: Longest grid on which reachable lengths are worked out.
REACH_BITS = 1 << 21


@dataclass(frozen=True)
class Kinds:
    """The problem over kinds of sticks; ``rows[b]`` are the bins of the original that kind b stands for."""

    problem: Problem
    rows: tuple[tuple[int, ...], ...]


def reachable(sizes: Sequence[int], limits: Sequence[int], top: int) -> int:
    """Bit c is set when some filling is exactly c long."""
    reach, mask = 1, (1 << (top + 1)) - 1
    for size, limit in zip(sizes, limits, strict=True):
        limit = min(limit, top // size)
        chunk = 1
        while limit > 0:
            take = min(chunk, limit)
            reach |= (reach << (take * size)) & mask
            limit -= take
            chunk *= 2
    return reach


def sort_kinds(problem: Problem) -> Kinds:
    """Shorten every bin to the longest filling it can hold, merge equal ones, drop those never needed."""
    top = min(problem.largest_capacity, problem.total_size)
    capacities = [min(b.capacity, top) for b in problem.bins]
    if top <= REACH_BITS:
        reach = reachable(problem.sizes, problem.demand, top)
        capacities = [(reach & ((1 << (c + 1)) - 1)).bit_length() - 1 for c in capacities]
    groups: dict[tuple[bool, int, int], list[int]] = {}
    for n, (held, capacity) in enumerate(zip(problem.bins, capacities, strict=True)):
        if capacity >= problem.sizes[-1] and held.quantity != 0:
            groups.setdefault((held.single, capacity, held.cost), []).append(n)
    kinds = []
    for (single, capacity, cost), rows in groups.items():
        quantities = [problem.bins[n].quantity for n in rows]
        quantity = None if None in quantities else sum(q for q in quantities if q is not None)
        kinds.append((Bin(capacity, cost, quantity, single), tuple(rows)))
    kinds.sort(key=lambda kind: (-kind[0].capacity, kind[0].cost, kind[1]))
    boundless = [b for b, _ in kinds if b.quantity is None and not b.single]
    kept = [
        (b, rows)
        for b, rows in kinds
        if b.single
        or not any(other != b and other.capacity >= b.capacity and other.cost <= b.cost for other in boundless)
    ]
    return Kinds(Problem(problem.sizes, problem.demand, tuple(b for b, _ in kept)), tuple(rows for _, rows in kept))


@dataclass
class _Use:
    counts: tuple[tuple[int, int], ...]
    size: int
    row: int
    times: int


def place(problem: Problem, kinds: Kinds, cuts: Cuts) -> Cuts:
    """Put fillings of kinds back on the bins of ``problem``, each on the one that suits it best."""
    free = [b.quantity for b in problem.bins]

    def rank(row: int) -> tuple[int, bool, int, int]:
        held = problem.bins[row]
        return (held.cost, held.quantity is None, held.capacity, row)

    def draw(rows: Iterable[int], times: int) -> list[tuple[int, int]]:
        out = []
        for row in rows:
            have = free[row]
            take = times if have is None else min(times, have)
            if take:
                out.append((row, take))
                times -= take
                if have is not None:
                    free[row] = have - take
        return out

    uses = []
    for pattern in sorted(cuts, key=lambda p: (-p.size(problem), p)):
        size = pattern.size(problem)
        for row, times in draw(sorted(kinds.rows[pattern.bin], key=rank), cuts[pattern]):
            uses.append(_Use(pattern.counts, size, row, times))
    best_first = sorted((n for n, b in enumerate(problem.bins) if not b.single), key=rank)
    moved = True
    while moved:
        moved = False
        for use in list(uses):
            if problem.bins[use.row].single:
                continue
            for row in best_first:
                if rank(row) >= rank(use.row):
                    break
                if problem.bins[row].capacity < use.size or free[row] == 0:
                    continue
                for to, times in draw([row], use.times):
                    use.times -= times
                    uses.append(_Use(use.counts, use.size, to, times))
                    have = free[use.row]
                    if have is not None:
                        free[use.row] = have + times
                    moved = True
                if not use.times:
                    break
        uses = [use for use in uses if use.times]
    out: Cuts = {}
    for use in uses:
        pattern = Pattern(use.row, use.counts)
        out[pattern] = out.get(pattern, 0) + use.times
    return out
