"""What a day, a saw cut and the wall of a tube may be, in the same words on pages and in workbooks.

Common practice, no source, but for the wall, which is geometry.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure.lengths import INCH_MM, UnitSystem, format_length, format_mm
from farmbuild.measure.numbers import format_decimal
from farmbuild.measure.usual import ByUnits


@dataclass(frozen=True)
class Days:
    """From the first of January of one year to the end of another."""

    first_year: int
    last_year: int

    @property
    def first(self) -> date:
        return date(self.first_year, 1, 1)

    @property
    def last(self) -> date:
        return date(self.last_year, 12, 31)

    @property
    def too_early(self) -> str:
        return f"Type a day from {self.first_year} on."

    @property
    def too_late(self) -> str:
        return f"Type a day up to {self.last_year}."

    def problem(self, day: date) -> str:
        """What to type instead; "" where the day may be."""
        return self.too_early if day < self.first else self.too_late if day > self.last else ""


#: Days of a season; days of prices and of what lies in the yard.
SEASON_DAYS, PAPER_DAYS = Days(2000, 2100), Days(1980, 2100)
MAX_LEAD_DAYS = 730
#: No blade of a saw takes away more.
WIDEST_KERF = INCH_MM
#: Of tubes, MPa; the bounds catch ksi and psi typed for MPa.
YIELD_LEAST, YIELD_MOST = Decimal(100), Decimal(1500)
YIELD_SPAN = f"Type a yield from {YIELD_LEAST} to {YIELD_MOST} MPa."
_WALL = ByUnits("0.065 in", "2.6 mm")


def kerf_problem(kerf: Decimal, units: UnitSystem) -> str:
    """What to type where no saw cuts so wide; "" where one may."""
    if kerf <= WIDEST_KERF:
        return ""
    most = format_length(WIDEST_KERF, units)
    return f"A saw cut of {format_length(kerf, units)} is wider than any blade. Type at most {most}."


def wall_problem(width: Decimal | None, wall: Decimal | None, units: UnitSystem) -> str:
    """What to type where the wall of a tube does not fit its outside diameter; "" where it does."""
    if width is None or wall is None or 0 < wall < width / 2:
        return ""
    across = _size(width, units)
    if wall <= 0:
        return f"A tube {across} across has a wall. Type it, for example {_WALL.of(units)}, or leave it empty."
    return (
        f"A wall of {_size(wall, units)} on both sides leaves no bore in a tube {across} across."
        f" Type less than {_size(width / 2, units)}."
    )


def _size(length: Decimal, units: UnitSystem) -> str:
    """Thousandths of an inch or hundredths of a millimetre."""
    return f"{format_decimal(length / INCH_MM, 3)} in" if units == UnitSystem.IMPERIAL else format_mm(length, 2)
