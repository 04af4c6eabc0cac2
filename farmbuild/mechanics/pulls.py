"""Which marks are made and pulled, and what stretch of the joined pipe each pull bends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from farmbuild.measure.speech import gettext_noop as _

#: Pipe past a mark below which bender and lever bar have too little to hold (common practice, no source): 6 in.
MIN_PAST_MARK = Decimal("152.4")
#: mm that nobody bends: less than a tape shows.
_NOTHING = 0.5
#: A part pull that bends less than this, mm, is not made; it would turn the pipe by a tenth of a degree or so.
_LEAST_PART = 5.0


class LeftOff(StrEnum):
    """Why a mark is not made."""

    JOINT = _("it lies in the joint, which a bend would spoil")
    SLEEVE = _("it would bend the end that has to stay straight for the sleeve")
    SHORT = _("too little pipe is left past it for bender and lever bar")


@dataclass(frozen=True)
class Pull:
    """One pull: at mark ``number`` of ``stick``, both from 1, ``at`` mm from where the stick is measured.

    It bends the joined pipe from ``start`` to ``end``, mm from the left end of the hoop. ``full``: what it would bend
    of its pitch were it pulled as far as the others.
    """

    stick: int
    number: int
    at: Decimal
    start: float
    end: float
    full: float

    @property
    def length(self) -> float:
        return self.end - self.start

    @property
    def part(self) -> bool:
        """Stopped before the others, so that the legs stand parallel."""
        return self.full - self.length > _NOTHING

    def shortened(self, length: float) -> Pull:
        """The same with less of a pull about its middle."""
        middle = (self.start + self.end) / 2
        return replace(self, start=middle - length / 2, end=middle + length / 2)


def why_left_off(
    mark: Decimal, stick_length: Decimal, insertion: Decimal, sticks: int, clear: Decimal = Decimal(0)
) -> LeftOff | None:
    """The one rule: no mark inside an insertion, at either end, nor with less pipe past it than MIN_PAST_MARK.

    ``clear``: no mark nearer than that to an end that a sleeve joins. Sticks are bent before they are joined, and a
    sleeve slides over straight pipe alone, so a whole pull has to fit beside it.
    """
    past = stick_length - mark
    if sticks > 1 and (mark < insertion or past < insertion):
        return LeftOff.JOINT
    if sticks > 1 and (mark < clear or past < clear):
        return LeftOff.SLEEVE
    return LeftOff.SHORT if past < MIN_PAST_MARK else None


def full_pulls(
    sticks: int, stick_length: Decimal, insertion: Decimal, marks: Sequence[Decimal], pitch: Decimal
) -> list[Pull]:
    """Every mark pulled in full: half the pitch on either side of it, as far as its stick reaches.

    Where two sticks overlap, what the pull before has bent is not bent again.
    """
    found: list[Pull] = []
    step, reached = stick_length - insertion, Decimal(0)
    for n in range(sticks):
        for number, mark in enumerate(marks, 1):
            start = max(n * step + max(Decimal(0), mark - pitch / 2), reached)
            end = n * step + min(stick_length, mark + pitch / 2)
            if end > start:
                found.append(Pull(n + 1, number, mark, float(start), float(end), float(end - start)))
                reached = end
    return found


def to_half_circle(pulls: list[Pull], developed: float, radius: float) -> list[Pull]:
    """No more of them than bend the pipe to a half circle about its middle; the outermost are part pulls.

    All of them, in full, where they bend no further than that.
    """
    most, middle = math.pi * radius, developed / 2
    if math.fsum(pull.length for pull in pulls) <= most + _NOTHING:
        return pulls
    reach = _reach(pulls, middle, most)
    kept = []
    for pull in pulls:
        length = min(pull.end, middle + reach) - max(pull.start, middle - reach)
        if length > _LEAST_PART:
            kept.append(pull.shortened(length) if length < pull.length else pull)
    return kept


def _reach(pulls: list[Pull], middle: float, most: float) -> float:
    """How far from the middle of the pipe, on both sides, ``most`` mm of the pulls lie."""
    edges: list[tuple[float, int]] = []
    for pull in pulls:
        for near, far in ((pull.start - middle, pull.end - middle), (middle - pull.end, middle - pull.start)):
            if far > 0:
                edges += [(max(0.0, near), 1), (far, -1)]
    bent, sides, before = 0.0, 0, 0.0
    for edge, change in sorted(edges):
        if sides and bent + sides * (edge - before) >= most:
            return before + (most - bent) / sides
        bent += sides * (edge - before)
        sides, before = sides + change, edge
    return before
