"""What every write of a booking goes through. The database refuses an overlap by itself; here it is said with whom.

Locks go in one order: benders by key, then the booking, then its request; so whoever comes second at a bender sees
what the first one wrote.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.selectors import COUNTS, bookings_of
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.calendar_services import LATEST
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.models import Organisation

State = BenderBooking.State


def lock_benders(keys: Collection[int]) -> dict[int, Bender]:
    """By key, locked until the transaction ends."""
    rows = Bender.objects.select_for_update(no_key=True).filter(pk__in=set(keys)).order_by("pk")
    return {row.pk: row for row in rows}


def lock_booking(organisation: Organisation, booking: BenderBooking) -> BenderBooking:
    """As it is now. Where its days or its bender may change, the bender is locked before.

    Nothing is joined: PostgreSQL would not find a row that went to another bender while this waited for it.
    """
    return BenderBooking.objects.of(organisation).select_for_update().get(pk=booking.pk)


def lock_booking_and_bender(organisation: Organisation, booking: BenderBooking, *more: Bender) -> BenderBooking:
    """Its bender (and ``more``) first, then the booking. Raises ValidationError where it went to another meanwhile."""
    bender = BenderBooking.objects.of(organisation).values_list("bender", flat=True).get(pk=booking.pk)
    lock_benders([bender, *(one.pk for one in more)])
    current = lock_booking(organisation, booking)
    if current.bender_id != bender:
        raise ValidationError(
            gettext("Someone moved this booking to %(bender)s just now. Look at it again.") % {"bender": current.bender}
        )
    return current


def save_booking(booking: BenderBooking) -> None:
    """Raises ValidationError where the database refuses: someone else was quicker."""
    booking.full_clean()
    try:
        with transaction.atomic():
            booking.save()
    except IntegrityError as error:
        if "booking_no_overlap" not in str(error):
            raise
        raise ValidationError({"first": gettext("Someone booked these days just now. Choose other days.")}) from error


def check_days(first: date, last: date, today: date, *, was_first: date | None = None) -> None:
    """``was_first``: a first day that it has already; it may have passed. Raises ValidationError by field."""
    if last < first:
        raise ValidationError(
            {"last": gettext("That is before %(first)s. Type the same day or a later one.") % {"first": day(first)}}
        )
    if first < today and first != was_first:
        raise ValidationError(
            {"first": gettext("That day has passed. Type %(today)s or a later day.") % {"today": day(today)}}
        )
    if last < today:
        raise ValidationError(
            {"last": gettext("That day has passed. Type %(today)s or a later day.") % {"today": day(today)}}
        )
    if last > LATEST:
        raise ValidationError({"last": gettext("That is too far off. Type a day before the year 2101.")})


def overlapping_bookings(
    organisation: Organisation, bender: Bender, first: date, last: date, *, but: BenderBooking | None = None
) -> list[BenderBooking]:
    """Bookings of the bender that hold one of these days, the earliest first, without ``but``."""
    rows = bookings_of(organisation=organisation).filter(
        bender=bender, state__in=COUNTS, first__lte=last, last__gte=first
    )
    return list(rows.exclude(pk=but and but.pk).order_by("first"))


def check_free(
    organisation: Organisation, bender: Bender, first: date, last: date, *, but: BenderBooking | None = None
) -> None:
    """Raises ValidationError at ``first``, saying who has it."""
    for row in overlapping_bookings(organisation, bender, first, last, but=but)[:1]:
        raise ValidationError(
            {
                "first": gettext("%(row)s has %(bender)s %(row_2)s. Choose other days.")
                % {"row": who(row), "bender": bender, "row_2": days_of(row)}
            }
        )


def check_back(organisation: Organisation, bender: Bender, first: date, today: date) -> None:
    """Raises ValidationError at ``first`` where it would start while someone has the bender still."""
    if first > today:
        return
    for row in bookings_of(organisation=organisation).filter(bender=bender, state=State.OUT):
        raise ValidationError(
            {
                "first": gettext("%(row)s has %(bender)s still, due back %(row_last)s. Choose a day after %(today)s.")
                % {"row": who(row), "bender": bender, "row_last": day(row.last), "today": day(today)}
            }
        )
