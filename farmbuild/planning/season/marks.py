"""Where a stick is marked for the saw: the lines of a tape, with how far each lies from where it should."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_off, tape_mark
from farmbuild.planning.results import CutLayout


@dataclass(frozen=True)
class Mark:
    """Far end of a piece, mm from the left end of its stick: ``at`` exactly, ``shown`` as the tape has it."""

    at: Decimal
    shown: Decimal
    units: UnitSystem

    @property
    def off(self) -> Decimal:
        """Above 0 where the tape shows too much."""
        return self.shown - self.at

    @property
    def off_text(self) -> str:
        return format_off(self.off, self.units)


def marks_of(layout: CutLayout, kerf: Decimal, units: UnitSystem) -> Iterator[Mark | None]:
    """One a piece, the saw cuts before it counted in; None where the stick ends with it, or is used as it is."""
    end = -kerf
    for piece in layout.pieces:
        end += kerf + piece.length
        if layout.uncut or end >= layout.stick_length:
            yield None
        else:
            yield Mark(end, tape_mark(end, layout.stick_length, units), units)
