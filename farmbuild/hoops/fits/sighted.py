"""A fit sighted: every measured hoop with the line wanted, its move and what stays off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.common.lengths import to_decimal
from farmbuild.hoops.fits.bridge import RidgeSight, SetHoop, sight_ridge
from farmbuild.hoops.fits.models import FitReading, HouseFit

#: What linear programs and rounding to six places leave, mm.
_DUST = Decimal("0.001")


@dataclass(frozen=True)
class HoopRow:
    """One measured hoop. Lengths in mm: ``before`` and ``after`` above the line wanted, ``move`` upwards.

    ``outside``: by how much the ridge stays outside the tolerance after the move, 0 for none. ``span_off``: post span
    less the one wanted where it is off by more than its tolerance, else None.
    """

    hoop: int
    place: Decimal
    post_span: Decimal | None
    height: Decimal
    down: Decimal
    up: Decimal
    line: Decimal
    before: Decimal
    move: Decimal
    after: Decimal
    outside: Decimal
    span_off: Decimal | None

    @property
    def height_after(self) -> Decimal:
        return self.height + self.move


def sight_fit(readings: Sequence[FitReading], fit: HouseFit, units: str) -> RidgeSight:
    hoops = [SetHoop(float(row.place), float(row.ridge_height), float(row.down), float(row.up)) for row in readings]
    return sight_ridge(hoops, tolerance=fit.tolerance, slope=fit.slope, units=units)


def sighted_rows(readings: Sequence[FitReading], fit: HouseFit, sight: RidgeSight) -> list[HoopRow]:
    rows = []
    for reading, move in zip(readings, sight.moves, strict=True):
        after = to_decimal(move.after)
        outside = abs(after) - fit.tolerance
        span_off = None if reading.post_span is None else reading.post_span - fit.post_span
        rows.append(
            HoopRow(
                hoop=reading.hoop,
                place=reading.place,
                post_span=reading.post_span,
                height=reading.ridge_height,
                down=reading.down,
                up=reading.up,
                line=to_decimal(move.line),
                before=to_decimal(move.before),
                move=move.move,
                after=after,
                outside=outside if outside > _DUST else Decimal(0),
                span_off=span_off if span_off is not None and abs(span_off) > fit.span_tolerance else None,
            )
        )
    return rows
