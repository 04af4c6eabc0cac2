"""Quick plans: fill one stick after another. They are the floor under the exact search, never the last
word.
"""

from __future__ import annotations

from collections.abc import Sequence

from farmbuild.planning.cut_problem import Cuts, Pattern, Problem


def first_fit_fill(problem: Problem, left: Sequence[int], capacity: int) -> list[tuple[int, int]]:
    """The largest pieces that still fit, one size after another."""
    counts = []
    for i, size in enumerate(problem.sizes):
        if left[i] and size <= capacity:
            k = min(left[i], capacity // size)
            counts.append((i, k))
            capacity -= k * size
            if capacity < problem.sizes[-1]:
                break
    return counts


def greedy_cuts(problem: Problem) -> Cuts | None:
    """Repeatedly fill the kind of stick that costs least for the length it takes up; None when stock runs
    out.

    Each pass goes for the largest piece left, so that no long piece is stranded when long sticks are few.
    """
    left = list(problem.demand)
    stock = [b.quantity for b in problem.bins]
    cuts: Cuts = {}
    while any(left):
        largest = next(i for i, n in enumerate(left) if n)
        best: tuple[tuple[float, int, int], int, list[tuple[int, int]], int] | None = None
        for b, held in enumerate(problem.bins):
            if stock[b] == 0 or problem.sizes[largest] > held.capacity:
                continue
            counts = [(largest, 1)] if held.single else first_fit_fill(problem, left, held.capacity)
            filled = sum(problem.sizes[i] * k for i, k in counts)
            key = (held.cost / filled, held.capacity - filled, b)
            if best is None or key < best[0]:
                best = (key, b, counts, filled)
        if best is None:
            return None
        _, b, counts, _ = best
        times = min(left[i] // k for i, k in counts)
        available = stock[b]
        if available is not None:
            times = min(times, available)
            stock[b] = available - times
        for i, k in counts:
            left[i] -= k * times
        pattern = Pattern(b, tuple(counts))
        cuts[pattern] = cuts.get(pattern, 0) + times
    return cuts
