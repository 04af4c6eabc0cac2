"""Bookings in words."""

from __future__ import annotations

from collections.abc import Sequence

from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.words import days_words

OURS = "Our own work"


def who(booking: BenderBooking) -> str:
    return booking.member.name if booking.member else OURS


def days_of(booking: BenderBooking) -> str:
    return days_words(booking.first, booking.last)


def listed(words: Sequence[str]) -> str:
    """One, two and three."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
