"""Best fillings of a stick for given piece values, and lists of all good ones, in whole-number arithmetic.

Tables over capacity are exact when capacity times sizes is small enough. Otherwise lengths are put on a
coarser grid twice: rounded down, which gives an upper bound on what a stick can hold, and rounded up, which
gives fillings that fit. The first table then steers an exact search over the true lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from farmbuild.planning.cutting.problem import Pattern, Problem

Ints = npt.NDArray[np.int64]

#: Cells of one table; keeps a pass in the milliseconds and the memory in tens of megabytes.
TABLE_CELLS = 1_000_000
#: Kinds of sticks given a new filling at a time: at least, and at most when there are many.
MAX_BINS = (24, 200)
#: Where the coarse table cannot tell: table cells to a filling that one exact search may come to, and to a round.
SETTLED_CELLS = 2_000
ROUND_CELLS = 300_000


def fill_table(values: Sequence[int], weights: Sequence[int], limits: Sequence[int], top: int) -> Ints:
    """Most value by capacity (columns, 0 to top) from items j, j + 1, ... (rows), each within its limit."""
    n = len(values)
    table = np.zeros((n + 1, top + 1), dtype=np.int64)
    for j in range(n - 1, -1, -1):
        row = table[j]
        row[:] = table[j + 1]
        value, weight, limit = values[j], weights[j], limits[j]
        if value <= 0 or weight > top:
            continue
        if weight == 0:
            row += value * limit
            continue
        limit = min(limit, top // weight)
        chunk = 1
        while limit > 0:
            take = min(chunk, limit)
            w = take * weight
            np.maximum(row[w:], row[: top + 1 - w] + take * value, out=row[w:])
            limit -= take
            chunk *= 2
    return table


@dataclass(frozen=True)
class Priced:
    """For each bin an upper bound on the value it can hold, and fillings worth more than their bin's price."""

    most: tuple[int, ...]
    patterns: tuple[Pattern, ...]
    #: False when some bound is from the coarse grid and might not be reached.
    tight: bool


class Fillings:
    """Fillings of every kind of bin of one problem."""

    def __init__(self, problem: Problem, demand: Sequence[int] | None = None, cells: int = TABLE_CELLS) -> None:
        self.problem = problem
        self.cells = cells
        self.n = len(problem.sizes)
        largest = max((b.capacity for b in problem.bins if not b.single), default=1)
        demand = problem.demand if demand is None else demand
        self.limits = [min(d, largest // s) for s, d in zip(problem.sizes, demand, strict=True)]
        width = max(64, cells // (self.n + 1))
        self.scale = max(1, -(-largest // width))
        self.top = max(1, largest // self.scale)
        self.low = [s // self.scale for s in problem.sizes]
        self.high = [-(-s // self.scale) for s in problem.sizes]
        self.exact = self.scale == 1
        #: Fillings that one exact search may come to, and its rounds.
        self.settled = max(100, cells // SETTLED_CELLS)
        self.rounds = 3 + cells // ROUND_CELLS
        #: Grows with the work done, about one a nanosecond.
        self.work = 0

    def upper_table(self, values: Sequence[int]) -> Ints:
        """At floor(capacity / scale): no filling is worth more (and on the exact grid one is worth it)."""
        return self._table(values, self.low)

    def most_worth(self, values: Sequence[int]) -> tuple[int, ...]:
        """What no filling of each bin is worth more than."""
        return tuple(self._most(self.upper_table(values), values))

    def _most(self, upper: Ints, values: Sequence[int]) -> list[int]:
        most = []
        for held in self.problem.bins:
            if held.single:
                fits = [v for v, s in zip(values, self.problem.sizes, strict=True) if s <= held.capacity]
                most.append(max(fits, default=0))
            else:
                most.append(int(upper[0, held.capacity // self.scale]))
        return most

    def _table(self, values: Sequence[int], weights: Sequence[int]) -> Ints:
        return self._table_of(values, weights, self.limits)

    def price(self, values: Sequence[int], prices: Sequence[int], *, wide: bool, settle: bool = True) -> Priced:
        """Look for fillings of bin b worth more than ``prices[b]``; ``wide`` also seeks the best with each item.

        Without ``settle`` what the coarse grid leaves open stays open.
        """
        bins = self.problem.bins
        most_bins = min(MAX_BINS[1], max(MAX_BINS[0], len(bins) // 4))
        upper = self.upper_table(values)
        most = self._most(upper, values)
        wanted = sorted((prices[b] - most[b], b) for b in range(len(bins)) if most[b] > prices[b])
        found: dict[Pattern, None] = {}
        safe = upper if self.exact else self._table(values, self.high)
        for _, b in wanted:
            if len(found) >= most_bins:
                break
            if bins[b].single:
                for i, s in enumerate(self.problem.sizes):
                    if s <= bins[b].capacity and values[i] > prices[b]:
                        found[Pattern(b, ((i, 1),))] = None
                continue
            cell = bins[b].capacity // self.scale
            if int(safe[0, cell]) > prices[b]:
                found[self._pattern(b, self._trace(safe, values, self.high, cell))] = None
        if wide:
            tabled = [b for _, b in wanted if not bins[b].single][:2]
            for pattern in self._with_each(safe, values, prices, tabled):
                found[pattern] = None
        tight = True
        if settle and not self.exact and not found:
            for _, b in wanted:
                if bins[b].single:
                    continue
                most[b], patterns = self._settle(upper, values, b, prices[b], most[b])
                tight &= bool(patterns) or most[b] <= prices[b]
                for pattern in patterns:
                    found[pattern] = None
                if len(found) >= most_bins:
                    break
        self.work += 15_000 * len(found)
        return Priced(tuple(most), tuple(found), tight)

    def _pattern(self, b: int, counts: Sequence[int]) -> Pattern:
        return Pattern(b, tuple((i, k) for i, k in enumerate(counts) if k))

    def _trace(
        self, table: Ints, values: Sequence[int], weights: Sequence[int], cell: int, start: int = 0
    ) -> list[int]:
        """Counts of a filling with items from ``start`` on that reaches the table's value at ``cell``."""
        counts = [0] * self.n
        column = table[:, cell].tolist()
        want = column[start]
        j = start
        while want and j < self.n:
            if column[j + 1] == want:
                j += 1
                continue
            row = table[j + 1]
            for k in range(1, self.limits[j] + 1):
                rest = cell - k * weights[j]
                if rest < 0:
                    break
                if int(row[rest]) + k * values[j] == want:
                    counts[j] = k
                    want -= k * values[j]
                    if rest != cell:
                        cell = rest
                        column = table[:, cell].tolist()
                    break
            j += 1
        return counts

    def _with_each(
        self, suffix: Ints, values: Sequence[int], prices: Sequence[int], bins: Sequence[int]
    ) -> list[Pattern]:
        """For each item the best filling that holds it, where worth more than the price."""
        if not bins:
            return []
        n, weights = self.n, self.high
        # Row n - j of the mirrored table holds items 0 to j - 1.
        mirror = self._table_of(values[::-1], weights[::-1], self.limits[::-1])
        out = []
        for b in bins:
            top = self.problem.bins[b].capacity // self.scale
            self.work += (top // 2 + 3_000) * n
            for j in range(n):
                best, split = prices[b], None
                for k in range(1, self.limits[j] + 1):
                    room = top - k * weights[j]
                    if values[j] <= 0 or room < 0:
                        break
                    both = mirror[n - j, : room + 1] + suffix[j + 1, room::-1]
                    at = int(both.argmax())
                    if int(both[at]) + k * values[j] > best:
                        best, split = int(both[at]) + k * values[j], (k, at, room - at)
                if split is None:
                    continue
                k, before, after = split
                counts = self._trace(suffix, values, weights, after, j + 1)
                head = self._trace_mirror(mirror, values, before, j)
                counts[:j] = head
                counts[j] = k
                out.append(self._pattern(b, counts))
        return out

    def _table_of(self, values: Sequence[int], weights: Sequence[int], limits: Sequence[int]) -> Ints:
        self.work += (3 * self.top // 2 + 6_000) * self.n
        return fill_table(values, weights, limits, self.top)

    def _trace_mirror(self, mirror: Ints, values: Sequence[int], cell: int, j: int) -> list[int]:
        n, counts = self.n, [0] * j
        column = mirror[:, cell].tolist()
        want = column[n - j]
        for i in range(j - 1, -1, -1):
            if not want:
                break
            if column[n - i] == want:
                continue
            row = mirror[n - i]
            for k in range(1, self.limits[i] + 1):
                rest = cell - k * self.high[i]
                if rest < 0:
                    break
                if int(row[rest]) + k * values[i] == want:
                    counts[i] = k
                    want -= k * values[i]
                    cell = rest
                    column = mirror[:, cell].tolist()
                    break
        return counts

    def _settle(self, upper: Ints, values: Sequence[int], b: int, price: int, most: int) -> tuple[int, list[Pattern]]:
        """Search over true lengths where the coarse grid cannot tell: a lower ``most``, fillings above the price."""
        capacity = self.problem.bins[b].capacity
        floor = price + 1
        for _ in range(self.rounds):
            counts = self._near_one(upper, values, capacity, floor, self.settled, whole=False)
            if counts is None:
                floor += max(1, (most - floor + 1) // 2)
                if floor > most:
                    break
                continue
            if len(counts):
                worth = counts @ np.array(values, dtype=np.int64)
                order = np.argsort(-worth, kind="stable")[: max(12, 300 // len(self.problem.bins))]
                return int(worth[order[0]]), [self._pattern(b, counts[row].tolist()) for row in order]
            most = floor - 1
            if floor == price + 1:
                break
            floor = price + 1 + (floor - price - 1) // 2
        return most, []

    def near(self, values: Sequence[int], prices: Sequence[int], slack: int, most: int) -> list[Pattern] | None:
        """All fillings worth at least price - slack that take no further item; None when more than ``most``."""
        upper = self.upper_table(values)
        out: list[Pattern] = []
        for b, held in enumerate(self.problem.bins):
            floor = prices[b] - slack
            if held.single:
                out += [
                    Pattern(b, ((i, 1),))
                    for i, s in enumerate(self.problem.sizes)
                    if s <= held.capacity and values[i] >= floor
                ]
                if len(out) > most:
                    return None
                continue
            if int(upper[0, held.capacity // self.scale]) < floor:
                continue
            counts = self._near_one(upper, values, held.capacity, floor, most - len(out))
            if counts is None:
                return None
            for row in counts:
                used = np.flatnonzero(row)
                if len(used):
                    out.append(Pattern(b, tuple(zip(used.tolist(), row[used].tolist(), strict=True))))
        return out

    def _near_one(
        self, upper: Ints, values: Sequence[int], capacity: int, floor: int, most: int, *, whole: bool = True
    ) -> Ints | None:
        """Counts (fillings by items) worth at least ``floor``; ``whole``: only those that take no further item."""
        sizes, scale, n = self.problem.sizes, self.scale, self.n
        room: Ints = np.array([capacity], dtype=np.int64)
        worth: Ints = np.zeros(1, dtype=np.int64)
        steps: list[tuple[Ints, Ints]] = []
        for j in range(n):
            parents, rooms, worths, taken = [], [], [], []
            ceiling = min(self.limits[j], capacity // sizes[j])
            if not whole and values[j] == 0:
                ceiling = 0
            for k in range(ceiling + 1):
                rest = room - k * sizes[j]
                gained = worth + k * values[j]
                ok = rest >= 0
                if k:
                    if not ok.any():
                        break
                    cells = np.where(ok, rest, 0) // scale
                else:
                    cells = rest // scale
                ok &= gained + upper[j + 1, cells] >= floor
                keep = np.flatnonzero(ok)
                if len(keep):
                    parents.append(keep)
                    rooms.append(rest[keep])
                    worths.append(gained[keep])
                    taken.append(np.full(len(keep), k, dtype=np.int64))
            self.work += 20 * len(room) * (ceiling + 1) + 20_000
            if not parents:
                return np.zeros((0, n), dtype=np.int64)
            steps.append((np.concatenate(parents), np.concatenate(taken)))
            room, worth = np.concatenate(rooms), np.concatenate(worths)
            if len(room) > 12 * most + 1000:
                return None
        counts = np.zeros((len(room), n), dtype=np.int64)
        at: Ints = np.arange(len(room), dtype=np.int64)
        for j in range(n - 1, -1, -1):
            parent, took = steps[j]
            counts[:, j] = took[at]
            at = parent[at]
        if not whole:
            return counts if len(counts) <= most else None
        full = np.ones(len(room), dtype=bool)
        for j in range(n):
            full &= (room < sizes[j]) | (counts[:, j] >= min(self.limits[j], capacity // sizes[j]))
        counts = counts[full]
        return counts if len(counts) <= most else None
