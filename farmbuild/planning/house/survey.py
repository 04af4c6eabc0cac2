"""Marking a house out: corners made square by the diagonal, and where each post stands from one corner."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.shape import MICRO, HouseShape

#: A diagonal is laid out with a long tape to this: 1/4 in, 5 mm (common practice, no source).
TAPE_STEP = {UnitSystem.IMPERIAL: Decimal("6.35"), UnitSystem.METRIC: Decimal(5)}


@dataclass(frozen=True)
class Survey:
    """The rectangle of the posts, centre to centre, mm. ``places``: of both sides alike, running from the front."""

    length: Decimal
    span: Decimal
    diagonal: Decimal
    places: tuple[Decimal, ...]

    def taped_diagonal(self, units: UnitSystem) -> Decimal:
        """As a tape is read, mm."""
        step = TAPE_STEP[units]
        return (self.diagonal / step).to_integral_value(ROUND_HALF_UP) * step


def survey(shape: HouseShape) -> Survey:
    """Both diagonals of the rectangle are equal, and as long as this, when its corners are square."""
    diagonal = (shape.length**2 + shape.span**2).sqrt().quantize(MICRO)
    return Survey(shape.length, shape.span, diagonal, shape.hoop_positions)
