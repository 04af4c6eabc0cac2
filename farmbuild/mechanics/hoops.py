"""The shape of a hoop: sticks joined at the swage, bent on one centreline radius, legs left straight.

Plane geometry of the circular segment (any machinist's handbook): arc 2 R a, chord 2 R sin a, rise R (1 - cos a) for
half angle a.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import format_mm


class GeometryError(ValueError):
    """A hoop that cannot be; the message says why in millimetres, ``part`` names what to change."""

    def __init__(self, part: str, message: str) -> None:
        self.part = part
        super().__init__(message)


def developed_length(sticks: int, stick_length: Decimal, insertion: Decimal) -> Decimal:
    """Length of the joined pipe along its centreline, mm: n sticks less n - 1 insertions. Exact."""
    if sticks < 1:
        raise GeometryError("sticks", "A hoop needs at least one stick.")
    if stick_length <= 0:
        raise GeometryError("stick_length", "A stick has to be longer than zero.")
    if not 0 <= insertion < stick_length:
        raise GeometryError("insertion", f"An insertion of {insertion} mm does not fit a stick of {stick_length} mm.")
    return sticks * stick_length - (sticks - 1) * insertion


@dataclass(frozen=True)
class Hoop:
    """A circular arc with equal straight legs, standing on its two ends; mm and radians.

    x runs from the middle (left is negative), y up from the ends.
    """

    developed: float
    radius: float
    half_angle: float
    leg: float

    @property
    def span(self) -> float:
        return 2 * self.radius * math.sin(self.half_angle)

    @property
    def rise(self) -> float:
        return self.radius * (1 - math.cos(self.half_angle)) + self.leg

    @property
    def flexibility(self) -> float:
        """The integral of y squared along the pipe, mm3; legs counted."""
        a, r, leg = self.half_angle, self.radius, self.leg
        c, s = math.cos(a), math.sin(a)
        arc = r**3 * (a * (1 + 2 * c * c) - 3 * s * c)
        lifted = 4 * r**2 * leg * (s - a * c) + 2 * r * a * leg**2
        return arc + lifted + 2 * leg**3 / 3

    def height_at(self, x: float) -> float:
        """Height of the centreline at ``x``; 0 outside the span."""
        if abs(x) > self.span / 2:
            return 0.0
        return max(0.0, self.rise - self.radius + math.sqrt(max(0.0, self.radius**2 - x * x)))

    def point_at(self, along: float) -> tuple[float, float, float]:
        """(x, y, direction) of the point ``along`` the pipe from the left end; direction in radians from level."""
        if along < self.leg:
            return -self.span / 2, along, math.pi / 2
        if self.developed - along < self.leg:
            return self.span / 2, self.developed - along, -math.pi / 2
        turn = (along - self.developed / 2) / self.radius
        return self.radius * math.sin(turn), self.rise - self.radius * (1 - math.cos(turn)), -turn

    def outline(self, points: int = 96) -> list[tuple[float, float]]:
        """``points`` + 1 points at equal steps along the pipe, ends included."""
        return [self.point_at(self.developed * i / points)[:2] for i in range(points + 1)]


def bent_hoop(developed: float, radius: float) -> Hoop:
    """The hoop as the bender leaves it: an arc up to a half circle, and straight legs with what is left over."""
    if developed <= 0:
        raise GeometryError("stick_length", "The pipe has to be longer than zero.")
    if radius <= 0:
        raise GeometryError("radius", "The bend radius has to be longer than zero.")
    if developed <= math.pi * radius:
        return Hoop(developed, radius, developed / (2 * radius), 0.0)
    return Hoop(developed, radius, math.pi / 2, (developed - math.pi * radius) / 2)


def hoop_over(developed: float, span: float) -> Hoop:
    """The hoop of that length that stands over that span.

    Raises GeometryError when the pipe is no longer than the span.
    """
    if not 0 < span < developed:
        raise GeometryError(
            "span",
            f"A pipe of {format_mm(developed, 0)} cannot stand over a span of {format_mm(span, 0)}.",
        )
    if span / developed <= 2 / math.pi:
        return bent_hoop(developed, span / 2)
    half = half_angle_for_span(developed, span)
    return Hoop(developed, developed / (2 * half), half, 0.0)


def half_angle_for_span(developed: float, span: float) -> float:
    """The half angle in (0, pi) of the arc of that length with that span, by bisection to the last bit.

    The a with sin(a) / a = span / developed. The span falls as the angle grows, so there is one. Raises GeometryError
    when the pipe is no longer than the span.
    """
    if not 0 < span < developed:
        raise GeometryError(
            "span",
            f"A pipe of {format_mm(developed, 0)} cannot stand over a span of {format_mm(span, 0)}.",
        )
    low, high = 0.0, math.pi
    while True:
        mid = (low + high) / 2
        if mid in (low, high):
            return high
        if developed * math.sin(mid) / mid > span:
            low = mid
        else:
            high = mid


@dataclass(frozen=True)
class StickChoice:
    """So many sticks joined, and the hoop that they make over the span asked for."""

    sticks: int
    hoop: Hoop


def sticks_for_span(span: float, stick_length: Decimal, insertion: Decimal, *, most: int = 12) -> list[StickChoice]:
    """What could stand over a span in mm: from the fewest sticks that reach to the first hoop with straight legs.

    More sticks than that only make longer legs. Empty when ``most`` sticks do not reach.
    """
    choices: list[StickChoice] = []
    for sticks in range(1, most + 1):
        developed = float(developed_length(sticks, stick_length, insertion))
        if developed <= span:
            continue
        choices.append(StickChoice(sticks, hoop_over(developed, span)))
        if choices[-1].hoop.leg > 0:
            break
    return choices


def joints(sticks: int, stick_length: Decimal, insertion: Decimal) -> list[Decimal]:
    """Middle of each joint's overlap along the pipe from the left end, mm."""
    step = stick_length - insertion
    return [step * n + insertion / 2 for n in range(1, sticks)]
