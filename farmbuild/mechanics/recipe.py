"""Marks and pulls: how one stick is bent, and what the hoop then is.

Marks stand ``first_mark`` from the swaged end and every ``pitch`` after it. Each pull bends the pitch on the bender's
radius, so it turns the pipe by pitch / radius.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.mechanics.hoops import GeometryError, Hoop, bent_hoop, developed_length, joints

#: Free pipe past the bender below which a lever bar is slid over the plain end (common practice, no source): 36 in.
LEVER_BELOW = Decimal("914.4")
#: A recipe with more marks than this on one stick is a slip of the pen.
MAX_MARKS = 500


@dataclass(frozen=True)
class BendRecipe:
    """Lengths in exact Decimal mm. Raises GeometryError for sizes that make no hoop."""

    stick_length: Decimal
    sticks: int
    insertion: Decimal
    radius: Decimal
    first_mark: Decimal
    pitch: Decimal
    stop_gap: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        developed_length(self.sticks, self.stick_length, self.insertion)
        if self.radius <= 0:
            raise GeometryError("radius", "The bend radius has to be longer than zero.")
        if self.pitch <= 0:
            raise GeometryError("pitch", "The distance between marks has to be longer than zero.")
        if not 0 <= self.first_mark < self.stick_length:
            raise GeometryError(
                "first_mark",
                f"The first mark, {self.first_mark} mm from the swaged end, is not on the stick.",
            )
        if (self.stick_length - self.first_mark) / self.pitch > MAX_MARKS:
            raise GeometryError("pitch", f"Marks every {self.pitch} mm would be more than {MAX_MARKS} on one stick.")
        if not 0 <= self.stop_gap < self.pitch:
            raise GeometryError(
                "stop_gap", f"A stop gap of {self.stop_gap} mm leaves nothing of a pull of {self.pitch} mm."
            )

    @property
    def developed(self) -> Decimal:
        return developed_length(self.sticks, self.stick_length, self.insertion)

    @property
    def marks(self) -> list[Decimal]:
        """From the swaged end of one stick, inside it."""
        count = math.ceil((self.stick_length - self.first_mark) / self.pitch)
        return [self.first_mark + k * self.pitch for k in range(count)]

    @property
    def pulls(self) -> int:
        """On one stick: one at each mark."""
        return len(self.marks)

    @property
    def radians_a_pull(self) -> float:
        return float(self.pitch / self.radius)

    @property
    def degrees_a_pull(self) -> float:
        return math.degrees(self.radians_a_pull)

    @property
    def hoop(self) -> Hoop:
        """As it stands free, before it is sprung in."""
        return bent_hoop(float(self.developed), float(self.radius))

    @property
    def bent_length(self) -> float:
        """Of the joined pipe, the length that the pulls bend, mm: all of it up to a half circle, no more."""
        return min(float(self.developed), math.pi * float(self.radius))

    @property
    def joints(self) -> list[Decimal]:
        return joints(self.sticks, self.stick_length, self.insertion)

    @property
    def marks_on_hoop(self) -> list[Decimal]:
        """Every mark of every stick along the joined pipe; each stick's swaged end lies to the left."""
        step = self.stick_length - self.insertion
        return [n * step + mark for n in range(self.sticks) for mark in self.marks]

    @property
    def unpulled(self) -> list[list[int]]:
        """For each stick from the left, the numbers (from 1) of its marks that lie on a straight leg.

        A hoop longer than a half circle stands on straight legs, so nothing is bent at those marks.
        """
        step, leg, end = float(self.stick_length - self.insertion), self.hoop.leg, float(self.developed)
        found: list[list[int]] = []
        for n in range(self.sticks):
            places = [n * step + float(mark) for mark in self.marks]
            found.append([number for number, x in enumerate(places, 1) if x < leg or end - x < leg])
        return found

    @property
    def pulls_in_hoop(self) -> int:
        """Marks of all sticks less those on straight legs."""
        return sum(len(self.marks) - len(numbers) for numbers in self.unpulled)
