"""Sleeves that join plain tube: whether one fits, and what must be known of it. For hoops and purlins alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.planning.house.context import size_text
from farmbuild.planning.house.spec import SLEEVES, Joint
from farmbuild.planning.materials import Material

#: A sleeve with more room than this is loose (common practice, no source): 1/4 in, as a hoop in its post.
MAX_PLAY = Decimal("6.35")
#: With less room than this a weld seam or paint may stop it (common practice, no source): 1/100 in.
LEAST_PLAY = Decimal("0.254")


@dataclass(frozen=True)
class Joining:
    """How sticks of ``tube`` are joined. ``sleeve`` is None while none is chosen; lengths in mm.

    ``called``: of what the sticks are, in a sentence. Messages name their field as Recipe does.
    """

    called: str
    joint: Joint
    tube: Material
    sleeve: Material | None
    sleeve_length: Decimal
    insertion: Decimal
    stick_length: Decimal
    units: UnitSystem

    def problems(self) -> Iterator[tuple[str, str]]:
        """(field, what keeps a sleeve from joining the sticks)."""
        say = self._say
        if self.joint not in SLEEVES:
            return
        if self.insertion:
            yield (
                "insertion",
                f"A sleeve loses no length, so no stick slides in by {say(self.insertion)}. Type 0 as insertion.",
            )
        if self.tube.swaged:
            yield (
                "tube",
                f"{self.tube.name} has a swaged end, which takes no sleeve. Choose a plain tube, or swage as joint.",
            )
        if self.sleeve is None:
            yield "sleeve_material", f"The {self.called} are joined by a sleeve of no tube. Choose its tube."
        elif not self.tube.swaged and (sizes := self._sizes()) and sizes[0] <= sizes[1]:
            outer, inner = self._both(self.sleeve)
            yield (
                "sleeve_material",
                f"The sleeve does not fit: {outer.name} is {self._size(max(sizes[0], Decimal(0)))} wide inside, and"
                f" {inner.name} {self._size(sizes[1])} outside. Choose another tube for the sleeve.",
            )
        if not self.sleeve_length:
            yield "sleeve_length", f"The {self.called} are joined by a sleeve of no length. Type how long it is."
        elif self.sleeve_length >= self.stick_length:
            yield (
                "sleeve_length",
                f"A sleeve of {say(self.sleeve_length)} is no shorter than the stick of {say(self.stick_length)}."
                f" Type less than {say(self.stick_length)}.",
            )

    def remarks(self) -> Iterator[str]:
        """What must be known of a sleeve without problems."""
        if self.joint not in SLEEVES or self.sleeve is None:
            return
        outer, inner = self._both(self.sleeve)
        sizes = self._sizes()
        if sizes is None:
            yield (
                f"Whether {inner.name} goes into {outer.name} cannot be checked: the catalogue lacks a size of one of"
                " them. Try one sleeve on one stick first."
            )
            return
        play = sizes[0] - sizes[1]
        both = (
            f"{outer.name} is {self._size(sizes[0])} wide inside, {inner.name} {self._size(sizes[1])} outside. The play"
            f" is {self._size(play)}"
        )
        if play > MAX_PLAY:
            yield (
                f"The sleeve of the {self.called} is loose: {both}; up to {self._size(MAX_PLAY)} is usual (common"
                " practice, no source)."
            )
        elif play < LEAST_PLAY:
            yield (
                f"The sleeve of the {self.called} is tight: {both}. A weld seam or paint may stop it: try one first"
                " (common practice, no source)."
            )

    def play(self) -> Decimal | None:
        """Room between sleeve and tube, mm; None where a size is unknown."""
        sizes = self._sizes() if self.sleeve else None
        return sizes[0] - sizes[1] if sizes else None

    def _both(self, sleeve: Material) -> tuple[Material, Material]:
        """The tube that takes the other, and that."""
        return (self.tube, sleeve) if self.joint is Joint.INNER else (sleeve, self.tube)

    def _sizes(self) -> tuple[Decimal, Decimal] | None:
        """Inside diameter of the outer tube, outside of the inner; None where the catalogue lacks one."""
        if self.sleeve is None:
            return None
        outer, inner = self._both(self.sleeve)
        if outer.bore is None or inner.width is None:
            return None
        return outer.bore, inner.width

    def _say(self, length: Decimal) -> str:
        return format_length(length, self.units)

    def _size(self, length: Decimal) -> str:
        return size_text(length, self.units)
