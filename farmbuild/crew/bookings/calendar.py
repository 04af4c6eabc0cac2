"""Calendars as other programs read them: when a bender is booked and for whom; when a member has which bender."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.db.models import Max, QuerySet
from django.utils.translation import gettext
from icalendar import Calendar

from farmbuild.crew.bookings.selectors import bookings_of
from farmbuild.crew.bookings.words import who
from farmbuild.crew.feeds import new_calendar, new_event
from farmbuild.crew.models import BenderBooking, CalendarFeed


def bender_calendar(feed: CalendarFeed) -> Calendar:
    """Whose it is and how far it has come."""
    rows = bookings_of(organisation=feed.organisation).filter(bender=feed.bender)
    return _calendar(str(feed.bender), rows, who)


def member_calendar(feed: CalendarFeed) -> Calendar:
    """The member's own bookings, and nobody else's."""
    rows = bookings_of(organisation=feed.organisation).filter(member=feed.member)
    return _calendar(
        gettext("Benders of %(member)s") % {"member": feed.member}, rows, lambda row: gettext("lent to us")
    )


def _calendar(name: str, rows: QuerySet[BenderBooking], words: Callable[[BenderBooking], str]) -> Calendar:
    """All-day events of all but cancelled ones; DTEND is the day after the last (RFC 5545, 3.6.1). ``words``: what
    stands behind the bender."""
    calendar = new_calendar(name)
    rows = rows.exclude(state=BenderBooking.State.CANCELLED).annotate(moved_at=Max("moves__moved_at"))
    for row in rows.order_by("first", "pk"):
        event = new_event(
            uid=f"bender-booking-{row.pk}",
            stamp=max(moment for moment in (row.made_at, row.moved_at, row.out_at, row.back_at) if moment),
            summary=f"{row.bender}: {words(row)} ({row.get_state_display().lower()})",
        )
        event.add("dtstart", row.first)
        event.add("dtend", row.last + timedelta(days=1))
        calendar.add_component(event)
    return calendar
