"""One view of a house or a hoop: how large it is and who draws it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.common.lengths import length_pair, length_text
from farmbuild.drawings.pen import LETTER, Pen, breadth_of
from farmbuild.measure import UnitSystem


@dataclass(frozen=True)
class View:
    """``core``: left, lower, right and upper edge at full size, mm; ``margins``: what words and dimensions need around
    it on the paper, in the same order."""

    name: str
    core: tuple[float, float, float, float]
    margins: tuple[float, float, float, float]
    draw: Callable[[Pen], None]

    @property
    def wide(self) -> float:
        return self.core[2] - self.core[0]

    @property
    def high(self) -> float:
        return self.core[3] - self.core[1]


@dataclass(frozen=True)
class Say:
    """Lengths in words, in the units of the reader."""

    units: UnitSystem

    def one(self, length: Decimal | float) -> str:
        return length_text(length, self.units)

    def both(self, length: Decimal | float) -> str:
        own, other = length_pair(length, self.units)
        return f"{own} ({other})"

    def fits(self, pen: Pen, length: float) -> bool:
        """Whether its words are no longer on the paper than it is; where they are, the section says it."""
        return breadth_of(self.one(length), LETTER) <= length / pen.scale

    def fit(self, pen: Pen, length: float, words: str = "", tail: str = "") -> str:
        """For a dimension of that length: name and both units where they fit, else the length alone."""
        own = self.one(length)
        wanted = (f"{words} {self.both(length)}{tail}", f"{self.both(length)}{tail}", f"{words} {own}{tail}")
        room = length / pen.scale - 3
        return next((text.strip() for text in wanted if breadth_of(text.strip(), LETTER) <= room), own)
