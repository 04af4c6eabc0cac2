"""Rectangles in plan, each turned about its first corner, and the free way between two of them.

x runs along the base line and y across it, in mm; turns are degrees clockwise, as on a compass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import cos, hypot, radians, sin

Point = tuple[float, float]
#: What rounding may leave between rectangles that touch, mm.
_TOUCH = 1e-6
#: A quarter turn is exact.
_QUARTERS: dict[float, Point] = {0: (1.0, 0.0), 90: (0.0, 1.0), 180: (-1.0, 0.0), 270: (0.0, -1.0)}


@dataclass(frozen=True)
class Rectangle:
    """``length`` runs from the corner at ``x``, ``y`` along the turned x direction, ``breadth`` to the left of that."""

    x: float
    y: float
    length: float
    breadth: float
    turn: float = 0.0

    @cached_property
    def ways(self) -> tuple[Point, Point]:
        """Unit vectors of its length and of its breadth."""
        turn = self.turn % 360
        cosine, sine = _QUARTERS.get(turn) or (cos(radians(turn)), sin(radians(turn)))
        return (cosine, -sine), (sine, cosine)

    @cached_property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """The first corner, then round by the end of its length."""
        (ux, uy), (vx, vy) = self.ways
        far = (self.x + self.length * ux, self.y + self.length * uy)
        side = (self.breadth * vx, self.breadth * vy)
        return (self.x, self.y), far, (far[0] + side[0], far[1] + side[1]), (self.x + side[0], self.y + side[1])

    @property
    def middle(self) -> Point:
        first, _, opposite, _ = self.corners
        return (first[0] + opposite[0]) / 2, (first[1] + opposite[1]) / 2

    def sides(self) -> Iterator[tuple[Point, Point]]:
        for at in range(4):
            yield self.corners[at], self.corners[(at + 1) % 4]


@dataclass(frozen=True)
class Gap:
    """The free way between two rectangles, mm. It can be measured between the points of ``first``, between those of
    ``last``, and anywhere between; where the rectangles are not parallel, both are one.
    """

    distance: float
    first: tuple[Point, Point]
    last: tuple[Point, Point]

    @property
    def middle(self) -> tuple[Point, Point]:
        return _half(self.first[0], self.last[0]), _half(self.first[1], self.last[1])

    @property
    def facing(self) -> float:
        """How long the two run beside each other, mm."""
        (ax, ay), (bx, by) = self.first[0], self.last[0]
        return hypot(bx - ax, by - ay)


def _half(one: Point, other: Point) -> Point:
    return (one[0] + other[0]) / 2, (one[1] + other[1]) / 2


def free_between(one: Rectangle, other: Rectangle) -> Gap | None:
    """The shortest way from one to the other; None where they lie over each other.

    Two convex shapes lie over each other when their shadows do on the normals of all of their sides (separating axes:
    Gottschalk, Lin and Manocha, OBBTree, 1996). Otherwise the shortest way between them begins or ends at a corner.
    """
    if _lie_over(one, other):
        return None
    ways = [(corner, _nearest(corner, side)) for corner in one.corners for side in other.sides()]
    ways += [(_nearest(corner, side), corner) for corner in other.corners for side in one.sides()]
    distance = min(map(_length, ways))
    shortest = [way for way in ways if _length(way) <= distance + _TOUCH]
    # Facing sides are met at a corner at either end of where they face; the ends are the two that lie farthest apart.
    first, last = max(
        ((a, b) for a in shortest for b in shortest), key=lambda pair: round(_length((pair[0][0], pair[1][0])), 3)
    )
    return Gap(distance if distance > _TOUCH else 0.0, first, last)


def _length(way: tuple[Point, Point]) -> float:
    return hypot(way[1][0] - way[0][0], way[1][1] - way[0][1])


def _lie_over(one: Rectangle, other: Rectangle) -> bool:
    for ax, ay in (*one.ways, *other.ways):
        mine = [x * ax + y * ay for x, y in one.corners]
        yours = [x * ax + y * ay for x, y in other.corners]
        if max(mine) <= min(yours) + _TOUCH or max(yours) <= min(mine) + _TOUCH:
            return False
    return True


def _nearest(point: Point, side: tuple[Point, Point]) -> Point:
    """The point of a side that is nearest to ``point``: its foot on the side, or an end of it."""
    (ax, ay), (bx, by) = side
    wide, high = bx - ax, by - ay
    share = ((point[0] - ax) * wide + (point[1] - ay) * high) / (wide * wide + high * high)
    share = min(1.0, max(0.0, share))
    return ax + share * wide, ay + share * high
