"""Writes of bookings: made, cancelled, fetched and brought back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.history import place_of, record_move
from farmbuild.crew.bookings.photos import attach_photos
from farmbuild.crew.bookings.rules import (
    check_back,
    check_days,
    check_free,
    lock_benders,
    lock_booking,
    lock_booking_and_bender,
    overlapping_bookings,
    save_booking,
)
from farmbuild.crew.bookings.selectors import bookings_of
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.crew.people.services import check_owner
from farmbuild.crew.problems.pictures import Picture
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User

State = BenderBooking.State


@needs(Act.BENDERS)
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
    bender = lock_benders([bender.pk])[bender.pk]
    if bender.archived_at:
        raise ValidationError(
            {"bender": gettext("%(bender)s is archived. Choose another bender.") % {"bender": bender}}
        )
    if member and Member.objects.get(pk=member.pk).archived_at:
        raise ValidationError(
            {"member": gettext("%(member)s is archived. Choose another member.") % {"member": member}}
        )
    today = today_of(organisation=organisation)
    check_days(first, last, today)
    check_free(organisation, bender, first, last)
    check_back(organisation, bender, first, today)
    booking = BenderBooking(
        organisation=organisation, bender=bender, member=member, first=first, last=last, made_by=user
    )
    if request:
        current = BenderRequest.objects.of(organisation).select_for_update().get(pk=request.pk)
        if current.state != BenderRequest.State.ASKED:
            raise ValidationError(
                gettext("%(member)s asks for it no more: %(current)s.")
                % {"member": current.member, "current": current.get_state_display().lower()}
            )
        # An earlier booking of it was cancelled; the request goes with the one that counts.
        BenderBooking.objects.filter(request=current).update(request=None)
        booking.request = current
        current.state = BenderRequest.State.GIVEN
        current.save(update_fields=["state"])
    save_booking(booking)
    return booking


@needs(Act.BENDERS)
@transaction.atomic
def cancel(*, organisation: Organisation, user: User, booking: BenderBooking) -> BenderBooking:
    """The days are free again, and the request that it met is open again."""
    current = lock_booking(organisation, booking)
    if current.state != State.BOOKED:
        raise ValidationError(
            gettext("%(bender)s is %(current)s: nothing to cancel.")
            % {"bender": current.bender, "current": current.get_state_display().lower()}
        )
    current.state = State.CANCELLED
    save_booking(current)
    BenderRequest.objects.of(organisation).filter(pk=current.request_id, state="given").update(state="asked")
    return current


@needs(Act.BENDERS)
@transaction.atomic
def check_out(*, organisation: Organisation, user: User, booking: BenderBooking, condition: str) -> BenderBooking:
    """``condition``: how the bender leaves. Before its first day it leaves if it is free until then, and the booking
    starts today. Raises ValidationError, saying who has it."""
    current = lock_booking_and_bender(organisation, booking)
    today = today_of(organisation=organisation)
    if current.state != State.BOOKED:
        raise ValidationError(
            gettext("This booking is %(current)s already.") % {"current": current.get_state_display().lower()}
        )
    if today > current.last:
        raise ValidationError(
            gettext("The booking ended on %(last)s. Move it to other days first.") % {"last": day(current.last)}
        )
    if not condition.strip():
        raise ValidationError(
            {"condition": gettext("Type how the bender leaves, for example: sound, all bolts tight.")}
        )
    problem = early_problem(current, today)
    if problem:
        raise ValidationError(problem)
    if today < current.first:
        was = place_of(current)
        current.first = today
        record_move(current, was, user)
    current.state, current.out_at, current.out_condition = State.OUT, timezone.now(), condition.strip()
    save_booking(current)
    return current


def early_problem(booking: BenderBooking, today: date) -> str:
    """Why the bender of a coming booking cannot leave today, or nothing."""
    organisation, bender = booking.organisation, booking.bender
    rows = bookings_of(organisation=organisation).filter(bender=bender, state=State.OUT)
    for other in rows.exclude(pk=booking.pk):
        return gettext("%(who)s has %(bender)s still. Check it in first.") % {"who": who(other), "bender": bender}
    if today >= booking.first:
        return ""
    between = overlapping_bookings(organisation, bender, today, booking.first - timedelta(days=1), but=booking)
    if not between:
        return ""
    return gettext("%(who)s has %(bender)s %(days_of)s. It cannot leave before %(after)s.") % {
        "who": who(between[0]),
        "bender": bender,
        "days_of": days_of(between[0]),
        "after": day(after(between)),
    }


def after(rows: Sequence[BenderBooking]) -> date:
    """The day after the last of them."""
    return max(row.last for row in rows) + timedelta(days=1)


@needs(Act.BENDERS)
@transaction.atomic
def check_in(
    *,
    organisation: Organisation,
    user: User,
    booking: BenderBooking,
    condition: str,
    pulls: int | None = None,
    photos: Sequence[Picture] = (),
) -> BenderBooking:
    """``condition``: how the bender came back. The days that are left are free again. Raises ValidationError.

    ``pulls``: how many were made with it, where whoever brought it told.
    """
    current = lock_booking(organisation, booking)
    if current.state != State.OUT:
        raise ValidationError(
            gettext("%(bender)s is not out on this booking: %(current)s.")
            % {"bender": current.bender, "current": current.get_state_display().lower()}
        )
    if not condition.strip():
        raise ValidationError(
            {"condition": gettext("Type how the bender came back, for example: sound, or what is bent.")}
        )
    current.state, current.back_at, current.back_condition = State.BACK, timezone.now(), condition.strip()
    current.pulls = pulls
    save_booking(current)
    attach_photos(booking=current, user=user, pictures=photos)
    return current


@needs(Act.BENDERS)
@transaction.atomic
def set_pulls(*, organisation: Organisation, user: User, booking: BenderBooking, pulls: int) -> BenderBooking:
    """How many pulls were made, told after the bender came back. Raises ValidationError by field."""
    current = lock_booking(organisation, booking)
    if current.state != State.BACK:
        raise ValidationError(gettext("Check the bender in first: pulls are told when it comes back."))
    current.pulls = pulls
    save_booking(current)
    return current
