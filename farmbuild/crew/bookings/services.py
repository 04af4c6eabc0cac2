"""Writes of bookings: made, cancelled, fetched and brought back. The database refuses an overlap by itself."""

from __future__ import annotations

from datetime import date

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.selectors import COUNTS, bookings_of, today_of
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.crew.people.calendar_services import LATEST
from farmbuild.crew.people.services import check_owner
from farmbuild.hoops.models import Bender
from farmbuild.orgs.models import Organisation, User

State = BenderBooking.State


def _store(booking: BenderBooking) -> None:
    """Raises ValidationError where the database refuses: somebody else was quicker."""
    booking.full_clean()
    try:
        with transaction.atomic():
            booking.save()
    except IntegrityError as error:
        if "booking_no_overlap" not in str(error):
            raise
        raise ValidationError({"first": "Somebody booked these days just now. Choose other days."}) from error


def _locked(organisation: Organisation, booking: BenderBooking) -> BenderBooking:
    rows = BenderBooking.objects.of(organisation).select_for_update(of=("self",))
    return rows.select_related("bender", "member").get(pk=booking.pk)


def _check_days(first: date, last: date, today: date) -> None:
    if last < first:
        raise ValidationError({"last": f"That is before {day(first)}. Type the same day or a later one."})
    if first < today:
        raise ValidationError({"first": f"That day has passed. Type {day(today)} or a later day."})
    if last > LATEST:
        raise ValidationError({"last": "That is too far off. Type a day before the year 2101."})


def _check_free(organisation: Organisation, bender: Bender, first: date, last: date, today: date) -> None:
    rows = bookings_of(organisation=organisation).filter(bender=bender, state__in=COUNTS, first__lte=last)
    for row in rows.order_by("first"):
        if row.last >= first:
            raise ValidationError({"first": f"{who(row)} has {bender} {days_of(row)}. Choose other days."})
        if row.state == State.OUT and first <= today:
            raise ValidationError(
                {"first": f"{who(row)} has {bender} still, due back {day(row.last)}. Choose a day after {day(today)}."}
            )


@transaction.atomic
def book(
    *,
    organisation: Organisation,
    user: User,
    bender: Bender,
    first: date,
    last: date,
    member: Member | None = None,
    request: BenderRequest | None = None,
) -> BenderBooking:
    """Keep ``bender`` from ``first`` to ``last``, both included; for the organisation's own work without a member.

    With ``request`` it is met by this. Raises ValidationError by field.
    """
    check_owner(organisation, {"bender": bender, "member": member, "request": request})
    # The bender first, so that who comes second at one bender sees the first one's booking.
    bender = Bender.objects.select_for_update(no_key=True).get(pk=bender.pk)
    if bender.archived_at:
        raise ValidationError({"bender": f"{bender} is archived. Choose another bender."})
    if member and Member.objects.get(pk=member.pk).archived_at:
        raise ValidationError({"member": f"{member} is archived. Choose another member."})
    today = today_of(organisation=organisation)
    _check_days(first, last, today)
    _check_free(organisation, bender, first, last, today)
    booking = BenderBooking(
        organisation=organisation, bender=bender, member=member, first=first, last=last, made_by=user
    )
    if request:
        current = BenderRequest.objects.of(organisation).select_for_update().get(pk=request.pk)
        if current.state != BenderRequest.State.ASKED:
            raise ValidationError(f"{current.member} asks for it no more: {current.get_state_display().lower()}.")
        # An earlier booking of it was cancelled; the request goes with the one that counts.
        BenderBooking.objects.filter(request=current).update(request=None)
        booking.request = current
        current.state = BenderRequest.State.GIVEN
        current.save(update_fields=["state"])
    _store(booking)
    return booking


@transaction.atomic
def cancel(*, organisation: Organisation, user: User, booking: BenderBooking) -> BenderBooking:
    """The days are free again, and the request that it met is open again."""
    current = _locked(organisation, booking)
    if current.state != State.BOOKED:
        raise ValidationError(f"{current.bender} is {current.get_state_display().lower()}: nothing to cancel.")
    current.state = State.CANCELLED
    _store(current)
    BenderRequest.objects.of(organisation).filter(pk=current.request_id, state="given").update(state="asked")
    return current


@transaction.atomic
def check_out(*, organisation: Organisation, user: User, booking: BenderBooking, condition: str) -> BenderBooking:
    """``condition``: how the bender leaves. Raises ValidationError."""
    current = _locked(organisation, booking)
    today = today_of(organisation=organisation)
    if current.state != State.BOOKED:
        raise ValidationError(f"This booking is {current.get_state_display().lower()} already.")
    if today < current.first:
        raise ValidationError(f"It is booked from {day(current.first)} on. Cancel this and book today to fetch it now.")
    if today > current.last:
        raise ValidationError(f"The booking ended on {day(current.last)}. Book other days.")
    if not condition.strip():
        raise ValidationError({"condition": "Type how the bender leaves, for example: sound, all bolts tight."})
    other = bookings_of(organisation=organisation).filter(bender=current.bender, state=State.OUT).first()
    if other:
        raise ValidationError(f"{who(other)} has {current.bender} still. Check it in first.")
    current.state, current.out_at, current.out_condition = State.OUT, timezone.now(), condition.strip()
    _store(current)
    return current


@transaction.atomic
def check_in(*, organisation: Organisation, user: User, booking: BenderBooking, condition: str) -> BenderBooking:
    """``condition``: how the bender came back. The days that are left are free again. Raises ValidationError."""
    current = _locked(organisation, booking)
    if current.state != State.OUT:
        raise ValidationError(f"{current.bender} is not out on this booking: {current.get_state_display().lower()}.")
    if not condition.strip():
        raise ValidationError({"condition": "Type how the bender came back, for example: sound, or what is bent."})
    current.state, current.back_at, current.back_condition = State.BACK, timezone.now(), condition.strip()
    _store(current)
    return current
