"""Work of one person as it is paid: whole minutes, and what goes past the end of the crew's day apart."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from farmbuild.crew.actuals.hours import CrewDay

_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Piece:
    """``starts`` and ``ends`` where they are known; ``after``: past the end of the crew's day."""

    minutes: int
    starts: datetime | None = None
    ends: datetime | None = None
    after: bool = False


def whole_minutes(minutes: Decimal) -> int:
    """Half up; work that was done took one at least."""
    return max(1, int(minutes.quantize(Decimal(1), ROUND_HALF_UP)))


def between(starts: datetime, ends: datetime) -> int:
    """Whole minutes, by the clock that never goes back."""
    seconds = (ends.astimezone(UTC) - starts.astimezone(UTC)).total_seconds()
    return whole_minutes(Decimal(str(seconds)) / 60)


def pieces(*, minutes: int, day: CrewDay, starts: datetime | None = None, ends: datetime | None = None) -> list[Piece]:
    """One piece, or two where the work goes past the end of ``day``; their minutes add up to ``minutes``.

    Where times are known and a break lies between them, the break is taken to lie before the end of the day.
    """
    if starts is None or ends is None:
        within = min(minutes, day.minutes)
        split = [Piece(within), Piece(minutes - within, after=True)]
    elif ends <= day.end:
        split = [Piece(minutes, starts, ends)]
    elif starts >= day.end:
        split = [Piece(minutes, starts, ends, after=True)]
    else:
        late = min(minutes, between(day.end, ends))
        split = [Piece(minutes - late, starts, day.end), Piece(late, day.end, ends, after=True)]
    return [piece for piece in split if piece.minutes]
