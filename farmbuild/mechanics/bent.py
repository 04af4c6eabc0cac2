"""The hoop that pulls make: a pipe curved evenly where it was pulled and straight everywhere else.

Walked piece by piece along the pipe: an arc of length l and turn t has the chord l sin(t/2) / (t/2), in the direction
half way through the turn (any machinist's handbook). Legs may differ, and may splay or toe in.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Piece:
    """An arc, or straight where ``curvature`` is 0 (1/mm): ``length`` mm from ``start`` along the pipe.

    It begins at ``x``, ``y`` in the direction ``way``, radians from level, and turns downwards.
    """

    start: float
    length: float
    curvature: float
    x: float
    y: float
    way: float

    def at(self, along: float) -> tuple[float, float, float]:
        """(x, y, direction) of the point ``along`` the pipe."""
        length = along - self.start
        half = self.curvature * length / 2
        chord = length * (math.sin(half) / half if half else 1.0)
        middle = self.way - half
        return self.x + chord * math.cos(middle), self.y + chord * math.sin(middle), self.way - 2 * half

    @property
    def end(self) -> float:
        return self.start + self.length

    @property
    def top(self) -> float:
        """The greatest y on it."""
        over = self.way / self.curvature if self.curvature else 0.0
        points = [self.start, self.end, *([self.start + over] if 0 < over < self.length else [])]
        return max(self.at(along)[1] for along in points)

    @property
    def height_squared(self) -> float:
        """The integral of y squared along it, mm3."""
        if not self.curvature:
            last = self.at(self.end)[1]
            return self.length * (self.y**2 + self.y * last + last**2) / 3
        radius, half = 1 / self.curvature, self.curvature * self.length / 2
        middle, centre = self.way - half, self.y - math.cos(self.way) / self.curvature
        return radius * (
            2 * half * centre**2
            + 4 * centre * radius * math.cos(middle) * math.sin(half)
            + radius**2 * (half + math.cos(2 * middle) * math.sin(2 * half) / 2)
        )


@dataclass(frozen=True)
class BentHoop:
    """Standing free on its two ends; mm and radians. x runs from the middle of the span, y up from the ends.

    ``stretches``: (from, to) along the pipe where it is bent, in order and apart; ``curvature`` is 1 / radius.
    """

    developed: float
    curvature: float
    stretches: tuple[tuple[float, float], ...]

    @property
    def radius(self) -> float:
        return 1 / self.curvature if self.curvature else math.inf

    @property
    def bent(self) -> float:
        """Length that is bent, mm."""
        return math.fsum(end - start for start, end in self.stretches)

    @property
    def half_angle(self) -> float:
        """Half of what the pulls turn the pipe."""
        return self.bent * self.curvature / 2

    @property
    def legs(self) -> tuple[float, float]:
        """Straight pipe at the left end and at the right, mm."""
        if not self.stretches:
            return self.developed, self.developed
        return self.stretches[0][0], self.developed - self.stretches[-1][1]

    @property
    def leg(self) -> float:
        """The longer one."""
        return max(self.legs)

    def _walk(self, x: float, y: float, way: float) -> list[Piece]:
        lengths: list[tuple[float, float]] = []
        at = 0.0
        for start, end in self.stretches:
            lengths += [(start - at, 0.0), (end - start, self.curvature)]
            at = end
        lengths.append((self.developed - at, 0.0))
        pieces: list[Piece] = []
        at = 0.0
        for length, curvature in lengths:
            if length <= 0:
                continue
            pieces.append(Piece(at, length, curvature, x, y, way))
            at += length
            x, y, way = pieces[-1].at(at)
        return pieces

    @cached_property
    def _ends(self) -> complex:
        return end_to_end(self.developed, self.stretches, self.curvature)

    @cached_property
    def span(self) -> float:
        """Below zero where the legs cross."""
        return signed(self._ends)

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        ends = self._ends
        tilt = math.atan(ends.imag / ends.real) if ends.real else 0.0
        return tuple(self._walk(-self.span / 2, 0.0, self.half_angle - tilt))

    @cached_property
    def rise(self) -> float:
        """From the line through the ends to the highest point."""
        return max(piece.top for piece in self.pieces)

    @cached_property
    def flexibility(self) -> float:
        """The integral of y squared along the pipe, mm3."""
        return math.fsum(piece.height_squared for piece in self.pieces)

    def point_at(self, along: float) -> tuple[float, float, float]:
        """(x, y, direction) of the point ``along`` the pipe from the left end; direction in radians from level."""
        found = next((piece for piece in self.pieces if along <= piece.end), self.pieces[-1])
        return found.at(along)

    def outline(self, points: int = 96) -> list[tuple[float, float]]:
        """``points`` + 1 points at equal steps along the pipe, ends included."""
        return [self.point_at(self.developed * i / points)[:2] for i in range(points + 1)]


def end_to_end(developed: float, stretches: Sequence[tuple[float, float]], curvature: float) -> complex:
    """From the first end to the last: along the direction half way through the turn, and across it as imaginary."""
    way = curvature * math.fsum(end - start for start, end in stretches) / 2
    found, at = 0j, 0.0
    for start, end in stretches:
        half = curvature * (end - start) / 2
        chord = (end - start) * (math.sin(half) / half if half else 1.0)
        found += cmath.rect(start - at, way) + cmath.rect(chord, way - half)
        way, at = way - 2 * half, end
    return found + cmath.rect(developed - at, way)


def signed(ends: complex) -> float:
    return math.copysign(abs(ends), ends.real)


def joined(stretches: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Stretches in order, those that touch made one."""
    found: list[tuple[float, float]] = []
    for start, end in stretches:
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return tuple(found)


def curvature_for_span(developed: float, stretches: tuple[tuple[float, float], ...], span: float) -> float:
    """At which those stretches give that span, by bisection to the last bit; the pipe turns less than a full circle.

    The span falls as the pipe is bent further. The caller makes sure that 0 < span < developed.
    """
    bent = math.fsum(end - start for start, end in stretches)
    low, high = 0.0, 2 * math.pi / bent
    while True:
        middle = (low + high) / 2
        if middle in (low, high):
            return high
        if signed(end_to_end(developed, stretches, middle)) > span:
            low = middle
        else:
            high = middle
