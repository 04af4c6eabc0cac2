"""What became of a booking: each move of it is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from farmbuild.crew.models import BenderBooking, BookingMove
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import User


@dataclass(frozen=True)
class BookingPlace:
    """A bender, and the days that it is kept, both included."""

    bender: Bender
    first: date
    last: date

    @property
    def key(self) -> str:
        return f"{self.bender.pk}_{self.first}_{self.last}"


def place_of(booking: BenderBooking) -> BookingPlace:
    return BookingPlace(booking.bender, booking.first, booking.last)


def record_move(booking: BenderBooking, was: BookingPlace, user: User) -> BookingMove:
    """Within the transaction of the move itself."""
    row = BookingMove(
        organisation=booking.organisation,
        booking=booking,
        from_bender=was.bender,
        from_first=was.first,
        from_last=was.last,
        to_bender=booking.bender,
        to_first=booking.first,
        to_last=booking.last,
        moved_by=user,
    )
    row.full_clean()
    row.save()
    return row


def moves_of(booking: BenderBooking) -> QuerySet[BookingMove]:
    """The first on top."""
    return booking.moves.select_related("from_bender", "to_bender", "moved_by").order_by("pk")
