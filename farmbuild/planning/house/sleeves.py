"""Sleeves that join plain tube: whether one fits, and what must be known of it. For hoops and purlins alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.measure.speech import sentence
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
                sentence(
                    "A sleeve loses no length, so no stick slides in by %(insertion)s. Type 0 as insertion.",
                    insertion=say(self.insertion),
                ),
            )
        if self.tube.swaged:
            yield (
                "tube",
                sentence(
                    "%(tube)s has a swaged end, which takes no sleeve. Choose a plain tube, or swage as joint.",
                    tube=self.tube.name,
                ),
            )
        if self.sleeve is None:
            yield (
                "sleeve_material",
                sentence(
                    "The %(called)s are joined by a sleeve of no tube. Choose its tube.", called=sentence(self.called)
                ),
            )
        elif not self.tube.swaged and (sizes := self._sizes()) and sizes[0] <= sizes[1]:
            outer, inner = self._both(self.sleeve)
            yield (
                "sleeve_material",
                sentence(
                    "The sleeve does not fit: %(outer)s is %(sizes)s wide inside, and %(inner)s %(sizes_2)s "
                    "outside. Choose another tube for the sleeve.",
                    outer=outer.name,
                    sizes=self._size(max(sizes[0], Decimal(0))),
                    inner=inner.name,
                    sizes_2=self._size(sizes[1]),
                ),
            )
        if not self.sleeve_length:
            yield (
                "sleeve_length",
                sentence(
                    "The %(called)s are joined by a sleeve of no length. Type how long it is.",
                    called=sentence(self.called),
                ),
            )
        elif self.sleeve_length >= self.stick_length:
            yield (
                "sleeve_length",
                sentence(
                    "A sleeve of %(sleeve_length)s is no shorter than the stick of %(stick_length)s. Type "
                    "less than %(stick_length)s.",
                    sleeve_length=say(self.sleeve_length),
                    stick_length=say(self.stick_length),
                ),
            )

    def remarks(self) -> Iterator[str]:
        """What must be known of a sleeve without problems."""
        if self.joint not in SLEEVES or self.sleeve is None:
            return
        outer, inner = self._both(self.sleeve)
        sizes = self._sizes()
        if sizes is None:
            yield (
                sentence(
                    "Whether %(inner)s goes into %(outer)s cannot be checked: the catalogue lacks a size of "
                    "one of them. Try one sleeve on one stick first.",
                    inner=inner.name,
                    outer=outer.name,
                )
            )
            return
        play = sizes[0] - sizes[1]
        both = sentence(
            "%(outer)s is %(sizes)s wide inside, %(inner)s %(sizes_2)s outside. The play is %(play)s",
            outer=outer.name,
            sizes=self._size(sizes[0]),
            inner=inner.name,
            sizes_2=self._size(sizes[1]),
            play=self._size(play),
        )
        if play > MAX_PLAY:
            yield (
                sentence(
                    "The sleeve of the %(called)s is loose: %(both)s; up to %(max_play)s is usual (common "
                    "practice, no source).",
                    called=sentence(self.called),
                    both=both,
                    max_play=self._size(MAX_PLAY),
                )
            )
        elif play < LEAST_PLAY:
            yield (
                sentence(
                    "The sleeve of the %(called)s is tight: %(both)s. A weld seam or paint may stop it: try "
                    "one first (common practice, no source).",
                    called=sentence(self.called),
                    both=both,
                )
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
