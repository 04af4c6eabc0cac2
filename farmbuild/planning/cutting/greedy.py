"""Quick plans: fill one stick after another. They are the floor under the exact search, never the last word."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from farmbuild.planning.cutting.problem import Cuts, Pattern, Problem

Ints = npt.NDArray[np.int64]


def greedy_cuts(problem: Problem) -> Cuts | None:
    """Repeatedly fill the kind of stick that costs least for the length it takes up; None when stock runs out.

    Each stick starts from the largest piece left, so that no long piece is stranded when long sticks are few, and
    takes the largest that still fits. All kinds of sticks are filled side by side, the best one is cut.
    """
    left = list(problem.demand)
    stock = [b.quantity for b in problem.bins]
    kinds = [b for b, held in enumerate(problem.bins) if held.quantity != 0]
    capacity: Ints = np.array([problem.bins[b].capacity for b in kinds], dtype=np.int64)
    cost = np.array([float(problem.bins[b].cost) for b in kinds])
    single = np.array([problem.bins[b].single for b in kinds], dtype=bool)
    number: Ints = np.array(kinds, dtype=np.int64)
    cuts: Cuts = {}
    largest = 0
    while True:
        while largest < len(left) and not left[largest]:
            largest += 1
        if largest == len(left):
            return cuts
        rows = np.flatnonzero(capacity >= problem.sizes[largest])
        if not len(rows):
            return None
        fills, filled = _fill(problem, left, largest, capacity[rows], single[rows])
        order = np.lexsort((number[rows], capacity[rows] - filled, cost[rows] / filled))
        at = int(order[0])
        b = int(number[rows[at]])
        counts = tuple((i, int(k[at])) for i, k in fills if k[at])
        times = min(left[i] // k for i, k in counts)
        have = stock[b]
        if have is not None:
            times = min(times, have)
            stock[b] = have - times
            if have == times:
                keep = number != b
                capacity, cost, single, number = capacity[keep], cost[keep], single[keep], number[keep]
        for i, k in counts:
            left[i] -= k * times
        pattern = Pattern(b, counts)
        cuts[pattern] = cuts.get(pattern, 0) + times


def _fill(
    problem: Problem, left: list[int], largest: int, capacity: Ints, single: npt.NDArray[np.bool_]
) -> tuple[list[tuple[int, Ints]], Ints]:
    """Counts by size for every stick at once, and the length each takes up; ``single`` sticks hold one piece."""
    room = capacity.copy()
    fills = []
    filled: Ints = np.zeros(len(capacity), dtype=np.int64)
    widest = int(room.max())
    for i in range(largest, len(left)):
        size = problem.sizes[i]
        if not left[i] or size > widest:
            continue
        count = np.minimum(room // size, left[i])
        if i == largest:
            count = np.where(single, 1, count)
        used = count * size
        room -= used
        filled += used
        if i == largest:
            room[single] = 0
        fills.append((i, count))
        widest = int(room.max())
    return fills, filled


def greedy_work(problem: Problem, cuts: Cuts) -> int:
    """Counted work of having made these cuts, about one a nanosecond."""
    return len(cuts) * (30_000 + 70 * len(problem.bins))
