"""When a task can be worked on, and where it ends from where it starts.

A calendar is the list of stretches in which all that a way of doing a task needs is there. Nothing here is searched
slot by slot, so a slot may be as short as one likes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from farmbuild.planning.scheduling.inputs import Resource

#: Later than any schedule: the end of a stretch that never ends.
FOREVER = 1 << 40

Stretch = tuple[int, int]


@dataclass(frozen=True)
class Piece:
    """Starts from ``first`` to ``last`` all end ``length`` slots later."""

    first: int
    last: int
    length: int


class Calendar:
    """Stretches ``(start, end)``, rising and apart."""

    def __init__(self, stretches: Sequence[Stretch]) -> None:
        self.starts = [a for a, _ in stretches]
        self.ends = [b for _, b in stretches]
        #: Slots of work before each stretch, and after the last.
        self.before = [0]
        for a, b in stretches:
            self.before.append(self.before[-1] + b - a)

    @property
    def total(self) -> int:
        return self.before[-1]

    def longest(self) -> int:
        return max((b - a for a, b in zip(self.starts, self.ends, strict=True)), default=0)

    def works(self, slot: int) -> bool:
        k = bisect_right(self.starts, slot) - 1
        return k >= 0 and slot < self.ends[k]

    def worked_before(self, slot: int) -> int:
        """Slots of work before ``slot``."""
        k = bisect_right(self.starts, slot) - 1
        return 0 if k < 0 else self.before[k] + min(slot, self.ends[k]) - self.starts[k]

    def between(self, start: int, stop: int) -> int:
        """Slots of work from ``start`` to ``stop``."""
        if stop <= start:
            return 0
        return self.worked_before(min(stop, FOREVER)) - self.worked_before(start)

    def earliest(self, slot: int, duration: int, pauses: bool) -> Stretch | None:
        """The first start not before ``slot``, and the end that goes with it; None when there is none."""
        if duration == 0:
            return slot, slot
        k = bisect_right(self.ends, slot)
        if pauses:
            if k == len(self.ends):
                return None
            start = max(slot, self.starts[k])
            done = self.before[k] + start - self.starts[k] + duration
            return None if done > self.total else (start, self._end(done, k))
        while k < len(self.ends):
            start = max(slot, self.starts[k])
            if start + duration <= self.ends[k]:
                return start, start + duration
            k += 1
        return None

    def latest(self, slot: int, duration: int, pauses: bool) -> Stretch | None:
        """The last start whose end is not after ``slot``; None when there is none."""
        if duration == 0:
            return slot, slot
        k = bisect_left(self.starts, slot) - 1
        if pauses:
            if k < 0:
                return None
            begun = self.before[k] + min(slot, self.ends[k]) - self.starts[k] - duration
            if begun < 0:
                return None
            j = bisect_right(self.before, begun, 0, len(self.starts)) - 1
            return self.starts[j] + begun - self.before[j], self._end(begun + duration, j)
        while k >= 0:
            start = min(slot, self.ends[k]) - duration
            if start >= self.starts[k]:
                return start, start + duration
            k -= 1
        return None

    def end(self, start: int, duration: int, pauses: bool) -> int | None:
        """Where a task that starts at ``start`` ends; None when it cannot start there."""
        found = self.earliest(start, duration, pauses)
        return found[1] if found is not None and found[0] == start else None

    def pieces(self, first: int, last: int, duration: int, pauses: bool) -> list[Piece]:
        """All starts from ``first`` to ``last``, in runs that take equally long."""
        if duration == 0:
            return [Piece(first, last, 0)] if first <= last else []
        found: list[Piece] = []
        k = bisect_right(self.ends, first)
        while k < len(self.ends) and self.starts[k] <= last:
            start = max(first, self.starts[k])
            stop = min(last, self.ends[k] - 1)
            if not pauses:
                stop = min(stop, self.ends[k] - duration)
                if start <= stop:
                    found.append(Piece(start, stop, duration))
            else:
                while start <= stop:
                    done = self.before[k] + start - self.starts[k] + duration
                    if done > self.total:
                        return found
                    end = self._end(done, k)
                    j = bisect_left(self.before, done, k + 1) - 1
                    # The run goes on until the end would leave stretch j.
                    run = min(stop - start, self.ends[j] - end)
                    found.append(Piece(start, start + run, end - start))
                    start += run + 1
            k += 1
        return found

    def _end(self, done: int, k: int) -> int:
        j = bisect_left(self.before, done, k + 1) - 1
        return self.starts[j] + done - self.before[j]


def all_of(resources: Sequence[Resource], amounts: Sequence[int]) -> Calendar:
    """Where each of ``resources`` has at least its amount there."""
    stretches: list[Stretch] = [(0, FOREVER)]
    for resource, amount in zip(resources, amounts, strict=True):
        stretches = _both(stretches, available(resource, amount))
    return Calendar(stretches)


def any_of(calendars: Iterable[Calendar]) -> Calendar:
    """Where at least one of ``calendars`` works."""
    joined: list[Stretch] = []
    for start, end in sorted({pair for one in calendars for pair in zip(one.starts, one.ends, strict=True)}):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return Calendar(joined)


def available(resource: Resource, amount: int) -> list[Stretch]:
    """The stretches in which at least ``amount`` of the resource is there."""
    if resource.windows is None:
        return [(0, FOREVER)] if resource.capacity >= amount else []
    joined: list[Stretch] = []
    for window in resource.windows:
        if window.capacity < amount or window.end <= window.start:
            continue
        if joined and joined[-1][1] == window.start:
            joined[-1] = (joined[-1][0], window.end)
        else:
            joined.append((window.start, window.end))
    return joined


def _both(one: list[Stretch], other: list[Stretch]) -> list[Stretch]:
    met: list[Stretch] = []
    i = j = 0
    while i < len(one) and j < len(other):
        start, end = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if start < end:
            met.append((start, end))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    return met
