"""The calendar of a bender as other programs read it: when it is booked and for whom, nothing else."""

from __future__ import annotations

from datetime import timedelta

from icalendar import Calendar

from farmbuild.crew.bookings.selectors import bookings_of
from farmbuild.crew.bookings.words import who
from farmbuild.crew.feeds import new_calendar, new_event
from farmbuild.crew.models import BenderBooking, CalendarFeed


def bender_calendar(feed: CalendarFeed) -> Calendar:
    """All-day events of all bookings but cancelled ones; DTEND is the day after the last (RFC 5545, 3.6.1)."""
    calendar = new_calendar(str(feed.bender))
    rows = bookings_of(organisation=feed.organisation).filter(bender=feed.bender)
    for row in rows.exclude(state=BenderBooking.State.CANCELLED).order_by("first", "pk"):
        event = new_event(
            uid=f"bender-booking-{row.pk}",
            stamp=row.back_at or row.out_at or row.made_at,
            summary=f"{row.bender}: {who(row)} ({row.get_state_display().lower()})",
        )
        event.add("dtstart", row.first)
        event.add("dtend", row.last + timedelta(days=1))
        calendar.add_component(event)
    return calendar
