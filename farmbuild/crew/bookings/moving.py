"""A booking goes to other days or to another bender in one step; its request and its history stay with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_list
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.history import place_of, record_move
from farmbuild.crew.bookings.rules import (
    check_back,
    check_days,
    check_free,
    lock_booking_and_bender,
    overlapping_bookings,
    save_booking,
)
from farmbuild.crew.bookings.selectors import COUNTS, bookings_of
from farmbuild.crew.bookings.words import days_of, who
from farmbuild.crew.models import BenderBooking
from farmbuild.crew.people.services import check_owner
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User

State = BenderBooking.State


@dataclass(frozen=True)
class FreeDays:
    """How long a bender that is out can stay out: through ``last`` (None: nobody has it after), then ``next``."""

    last: date | None
    next: BenderBooking | None


def free_days_of(*, organisation: Organisation, booking: BenderBooking) -> FreeDays:
    rows = bookings_of(organisation=organisation).filter(bender=booking.bender, state__in=COUNTS)
    following = rows.filter(first__gt=booking.last).order_by("first").first()
    return FreeDays(following.first - timedelta(days=1) if following else None, following)


def benders_for(*, organisation: Organisation, booking: BenderBooking) -> QuerySet[Bender]:
    """Its own bender, and those in use that bend the tube: the one asked for, or one that its own bender takes. A
    bender without a list of tubes takes any."""
    rows = Bender.objects.of(organisation).select_related("organisation")
    tubes = Bender.tubes.through.objects
    request = booking.request
    wanted = {request.tube_id} if request and request.tube_id else _tubes_of(booking.bender)
    fits = Q()
    if wanted:
        listed_here = tubes.filter(bender=OuterRef("pk"))
        fits = ~Exists(listed_here) | Exists(listed_here.filter(material__in=wanted))
    return rows.filter(Q(pk=booking.bender_id) | (Q(archived_at=None) & fits)).order_by("name", "pk")


def differs_from_request(booking: BenderBooking) -> bool:
    """Whether its days or its bender are not those that its request asked for."""
    asked = booking.request
    if asked is None:
        return False
    days = (booking.last - booking.first).days + 1
    within = asked.earliest <= booking.first and booking.last <= asked.need_by
    return not within or days != asked.days or asked.bender_id not in (None, booking.bender_id)


def _tubes_of(bender: Bender) -> set[int]:
    return set(bender.tubes.values_list("pk", flat=True))


@needs(Act.BENDERS)
@transaction.atomic
def move(
    *,
    organisation: Organisation,
    user: User,
    booking: BenderBooking,
    bender: Bender,
    first: date,
    last: date,
    seen: str = "",
) -> BenderBooking:
    """The booking with its new days and bender. ``seen``: the ``Where.key`` that the user was shown.

    Raises ValidationError by field: a bender that is back or cancelled does not move, one that is out changes its last
    day alone, and days that someone has are refused with their name.
    """
    check_owner(organisation, {"bender": bender})
    current = lock_booking_and_bender(organisation, booking, bender)
    was = place_of(current)
    if seen and seen != was.key:
        raise ValidationError(
            gettext("Someone moved it just now: it is %(bender)s, %(days_of)s. Look at it and send again.")
            % {"bender": current.bender, "days_of": days_of(current)}
        )
    if current.state not in COUNTS:
        raise ValidationError(
            gettext("This booking is %(current)s: there is nothing to move.")
            % {"current": current.get_state_display().lower()}
        )
    if (bender.pk, first, last) == (was.bender.pk, was.first, was.last):
        raise ValidationError(gettext("Nothing is changed. Type other days or choose another bender."))
    today = today_of(organisation=organisation)
    if current.state == State.OUT:
        _check_out_stays(current, bender, first)
        check_days(first, last, today, was_first=first)
        _check_longer(organisation, current, last)
    else:
        if not benders_for(organisation=organisation, booking=current).filter(pk=bender.pk).exists():
            raise ValidationError(
                {
                    "bender": gettext("%(bender)s does not bend this tube, or is archived. Choose another.")
                    % {"bender": bender}
                }
            )
        check_days(first, last, today, was_first=was.first)
        check_free(organisation, bender, first, last, but=current)
        if (bender.pk, first) != (was.bender.pk, was.first):
            check_back(organisation, bender, first, today)
    current.bender, current.first, current.last = bender, first, last
    save_booking(current)
    record_move(current, was, user)
    return current


def _check_out_stays(booking: BenderBooking, bender: Bender, first: date) -> None:
    words = gettext("%(bender)s is out on this booking, so only its last day can change.") % {"bender": booking.bender}
    if bender.pk != booking.bender_id:
        raise ValidationError({"bender": words})
    if first != booking.first:
        raise ValidationError({"first": words})


def _check_longer(organisation: Organisation, booking: BenderBooking, last: date) -> None:
    """Raises ValidationError at ``last``, naming everybody whom it would delay."""
    delayed = overlapping_bookings(organisation, booking.bender, booking.first, last, but=booking)
    if not delayed:
        return
    whom = said_list(f"{who(row)} ({days_of(row)})" for row in delayed)
    latest = delayed[0].first - timedelta(days=1)
    count = len(delayed)
    words = (
        ngettext(
            "That would delay %(whom)s. Move that booking first, or type %(day)s or an earlier day.",
            "That would delay %(whom)s. Move those bookings first, or type %(day)s or an earlier day.",
            count,
        )
        if latest > booking.last
        else ngettext(
            "That would delay %(whom)s. Move that booking first.",
            "That would delay %(whom)s. Move those bookings first.",
            count,
        )
    )
    raise ValidationError({"last": words % {"whom": whom, "day": day(latest)}})
