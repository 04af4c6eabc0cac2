"""Bookings in words."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.words import days_words

OURS = _("Our own work")


def who(booking: BenderBooking) -> str:
    return booking.member.name if booking.member else str(OURS)


def days_of(booking: BenderBooking) -> str:
    return days_words(booking.first, booking.last)
