"""Marks and pulls: how one stick is bent, and what the hoop then is.

Marks stand ``first_mark`` from the end that goes into the bender first, the swaged one where there is one, and every
``pitch`` after it, but for those that ``pulls.py`` leaves off. A pull bends its pitch of pipe on the bender's radius,
half of it on either side of the mark, so it turns the pipe by pitch / radius: less where the pipe ends or a joint
overlaps, and less where it is stopped sooner (a part pull). The hoop is what these pulls make. Sticks that a sleeve
joins butt: no length is lost, and half a sleeve at each end of a stick stays straight.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from farmbuild.measure import format_mm
from farmbuild.measure.lengths import MICRON
from farmbuild.mechanics.bent import BentHoop, curvature_for_span, joined
from farmbuild.mechanics.hoops import GeometryError, developed_length, joints
from farmbuild.mechanics.pulls import LeftOff, Pull, full_pulls, to_half_circle, why_left_off

#: Free pipe past the bender below which a lever bar is slid over the plain end (common practice, no source): 36 in.
LEVER_BELOW = Decimal("914.4")
#: A recipe with more marks than this on one stick is a slip of the pen.
MAX_MARKS = 500


@dataclass(frozen=True)
class BendRecipe:
    """Lengths in exact Decimal mm. Raises GeometryError for sizes that make no hoop.

    ``all_along``: every mark is made and the pipe is taken as bent from end to end, up to a half circle. Batches that
    were begun before pulls were counted one by one keep that, so that their hoops stay alike.
    """

    stick_length: Decimal
    sticks: int
    insertion: Decimal
    radius: Decimal
    first_mark: Decimal
    pitch: Decimal
    stop_gap: Decimal = Decimal(0)
    all_along: bool = False
    #: Length of the sleeve at each joint; 0 where a swage slides in.
    sleeve: Decimal = Decimal(0)

    def __post_init__(self) -> None:
        developed_length(self.sticks, self.stick_length, self.insertion)
        if self.sleeve and self.sticks > 1:
            if self.insertion:
                raise GeometryError("insertion", "Sticks that a sleeve joins butt, so nothing slides in.")
            if not 0 < self.sleeve < self.stick_length:
                raise GeometryError(
                    "sleeve_length", f"A sleeve of {self.sleeve} mm does not fit a stick of {self.stick_length} mm."
                )
        if self.radius <= 0:
            raise GeometryError("radius", "The bend radius has to be longer than zero.")
        if self.pitch <= 0:
            raise GeometryError("pitch", "The distance between marks has to be longer than zero.")
        if not 0 <= self.first_mark < self.stick_length:
            raise GeometryError(
                "first_mark",
                f"The first mark, {self.first_mark} mm from the end that goes in first, is not on the stick.",
            )
        if (self.stick_length - self.first_mark) / self.pitch > MAX_MARKS:
            raise GeometryError("pitch", f"Marks every {self.pitch} mm would be more than {MAX_MARKS} on one stick.")
        if not 0 <= self.stop_gap < self.pitch:
            raise GeometryError(
                "stop_gap", f"A stop gap of {self.stop_gap} mm leaves nothing of a pull of {self.pitch} mm."
            )
        if not self.marks:
            raise GeometryError("first_mark", "Every mark lies in a joint or too near the end, so nothing is pulled.")

    @property
    def developed(self) -> Decimal:
        return developed_length(self.sticks, self.stick_length, self.insertion)

    @cached_property
    def _planned(self) -> list[tuple[Decimal, LeftOff | None]]:
        """Every mark inside the stick, and why it is left off."""
        count = math.ceil((self.stick_length - self.first_mark) / self.pitch)
        places = [self.first_mark + k * self.pitch for k in range(count)]
        if self.all_along:
            return [(at, None) for at in places]
        return [(at, why_left_off(at, self.stick_length, self.insertion, self.sticks, self.clear)) for at in places]

    @property
    def clear(self) -> Decimal:
        """No mark lies nearer to the end of a stick than this: half the sleeve, and half of what a pull bends."""
        return (self.sleeve + self.pitch) / 2 if self.sleeve else Decimal(0)

    @property
    def marks(self) -> list[Decimal]:
        """Those to make on each stick, from its swaged end."""
        return [at for at, why in self._planned if why is None]

    @property
    def left_off(self) -> list[tuple[Decimal, LeftOff]]:
        """Marks that the pitch asks for and that are not made, and why."""
        return [(at, why) for at, why in self._planned if why is not None]

    @property
    def pulls(self) -> int:
        """On one stick: one at each mark."""
        return len(self.marks)

    @property
    def radians_a_pull(self) -> float:
        """Of a full one."""
        return float(self.pitch / self.radius)

    @property
    def degrees_a_pull(self) -> float:
        return math.degrees(self.radians_a_pull)

    @cached_property
    def full_pulls(self) -> list[Pull]:
        """Every mark of every stick pulled as far as the others."""
        return full_pulls(self.sticks, self.stick_length, self.insertion, self.marks, self.pitch)

    @cached_property
    def pulled(self) -> tuple[Pull, ...]:
        """Every pull of the hoop, along the joined pipe from the left; each stick's swaged end lies to the left."""
        if self.all_along:
            return tuple(self._pulls_on_arc())
        return tuple(to_half_circle(self.full_pulls, float(self.developed), float(self.radius)))

    def _pulls_on_arc(self) -> Iterator[Pull]:
        (first, last), half = self.stretches[0], float(self.pitch) / 2
        for index, along in enumerate(map(float, self.marks_on_hoop)):
            if first <= along <= last:
                stick, number = divmod(index, len(self.marks))
                at = self.marks[number]
                yield Pull(stick + 1, number + 1, at, along - half, along + half, 2 * half)

    def degrees_of(self, pull: Pull) -> float:
        """What that pull turns the pipe by."""
        return math.degrees(pull.length / float(self.radius))

    def gap_of(self, pull: Pull) -> float:
        """The stop gap of that pull, mm: one that is pulled less stops sooner.

        Taken one pitch along the bender, where a change of g turns the pull by g / pitch.
        """
        less = (pull.full - pull.length) / float(self.radius) if pull.part else 0.0
        return float(self.stop_gap) + less * float(self.pitch)

    @cached_property
    def stretches(self) -> tuple[tuple[float, float], ...]:
        """(from, to) along the joined pipe where it is bent, mm."""
        if self.all_along:
            developed = float(self.developed)
            leg = max(0.0, (developed - math.pi * float(self.radius)) / 2)
            return ((leg, developed - leg),)
        return joined([(pull.start, pull.end) for pull in self.pulled])

    @cached_property
    def hoop(self) -> BentHoop:
        """As it stands free, before it is sprung in."""
        return self.hoop_on(float(self.radius))

    def hoop_on(self, radius: float) -> BentHoop:
        """What the same pulls make where each comes out on another radius, mm."""
        return BentHoop(float(self.developed), 1 / radius, self.stretches)

    def hoop_over(self, span: float) -> BentHoop:
        """What the same pulls make where they come out on the one radius that gives that span, mm.

        Raises GeometryError where the pipe is no longer than the span.
        """
        developed = float(self.developed)
        if not 0 < span < developed:
            raise GeometryError(
                "span",
                f"A pipe of {format_mm(developed, 0)} cannot stand over a span of {format_mm(span, 0)}.",
            )
        return BentHoop(developed, curvature_for_span(developed, self.stretches, span), self.stretches)

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
        pulled = {(pull.stick, pull.number) for pull in self.pulled}
        numbers = range(1, len(self.marks) + 1)
        return [[n for n in numbers if (stick, n) not in pulled] for stick in range(1, self.sticks + 1)]

    @property
    def pulls_in_hoop(self) -> int:
        """Marks of all sticks less those on straight legs."""
        return len(self.pulled)


def radius_for_span(recipe: BendRecipe, span: float) -> float:
    """The bender's radius on which the marks of that recipe make that span, mm, part pulls and all; by bisection.

    Raises GeometryError where the pipe is no longer than the span.
    """
    developed = float(recipe.developed)
    if not 0 < span < developed:
        raise GeometryError(
            "span",
            f"A pipe of {format_mm(developed, 0)} cannot stand over a span of {format_mm(span, 0)}.",
        )
    pulls = recipe.full_pulls
    low, high = span / 8, span * developed / (developed - span) * 8
    while high - low > float(MICRON):
        middle = (low + high) / 2
        made = joined([(pull.start, pull.end) for pull in to_half_circle(pulls, developed, middle)])
        if BentHoop(developed, 1 / middle, made).span < span:
            low = middle
        else:
            high = middle
    return high
