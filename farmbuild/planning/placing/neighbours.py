"""Who stands beside whom on a site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import atan2, degrees

from farmbuild.planning.placing.rectangles import Gap, Rectangle, free_between

#: Rectangles that are looked at together; the work grows with the square of them.
MAX_PLACED = 100
#: mm.
_ROUNDING = 0.01


@dataclass(frozen=True)
class Neighbours:
    """Places in the list that was given, and the free way between the two; None: they lie over each other."""

    one: int
    other: int
    gap: Gap | None

    @property
    def distance(self) -> float:
        return self.gap.distance if self.gap else 0.0

    def too_near(self, near: float) -> bool:
        """Over each other, or nearer than ``near`` by more than rounding leaves."""
        return self.gap is None or self.distance < near - _ROUNDING


def neighbours_among(rectangles: Sequence[Rectangle], *, near: float) -> list[Neighbours]:
    """Pairs that face each other, or of which one is the nearest to the other, with nothing between them.

    Pairs nearer than ``near``, mm, and those over each other are all given. At most ``MAX_PLACED`` are looked at.
    """
    shown = rectangles[:MAX_PLACED]
    pairs = [Neighbours(a, b, free_between(shown[a], shown[b])) for a, b in combinations(range(len(shown)), 2)]
    nearest: dict[int, float] = {}
    for pair in pairs:
        for each in (pair.one, pair.other):
            nearest[each] = min(pair.distance, nearest.get(each, pair.distance))
    return [pair for pair in pairs if _matters(pair, nearest, near) and not _something_between(pair, shown, near)]


def _matters(pair: Neighbours, nearest: dict[int, float], near: float) -> bool:
    if pair.gap is None or pair.too_near(near) or pair.gap.facing > _ROUNDING:
        return True
    return pair.distance <= max(nearest[pair.one], nearest[pair.other])


def _something_between(pair: Neighbours, shown: Sequence[Rectangle], near: float) -> bool:
    if pair.gap is None or pair.too_near(near):
        return False
    way = _as_strip(pair.gap)
    return any(free_between(way, each) is None for at, each in enumerate(shown) if at not in (pair.one, pair.other))


def _as_strip(gap: Gap) -> Rectangle:
    """A strip one millimetre broad along the way, in its middle."""
    (ax, ay), (bx, by) = gap.middle
    return Rectangle(ax, ay, gap.distance, 1.0, -degrees(atan2(by - ay, bx - ax)))
