"""What a member does for itself at the cooperative, by its sign-in or by the people of its farm."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.crew import feeds
from farmbuild.crew.bookings.measuring import check_measured
from farmbuild.crew.bookings.member_requests import ask, withdraw_asked
from farmbuild.crew.bookings.own.whose import check_acts_for
from farmbuild.crew.models import BenderBooking, BenderRequest, CalendarFeed, Member
from farmbuild.crew.people.services import lock_organisation
from farmbuild.hoops.batches.measured.models import MeasuredHoop
from farmbuild.hoops.batches.measured.services import store_hoop, withdraw_hoop
from farmbuild.orgs.models import User

#: Of one member, asked for by itself.
MAX_OPEN = 10


@transaction.atomic
def create_own_request(*, member: Member, user: User, data: Mapping[str, Any]) -> BenderRequest:
    """As ``create_request``; at most ``MAX_OPEN`` are open. Raises ValidationError by field."""
    check_acts_for(member=member, user=user)
    lock_organisation(member.organisation)
    if BenderRequest.objects.of(member.organisation).filter(member=member, state="asked").count() >= MAX_OPEN:
        raise ValidationError(
            gettext("%(max_open)s requests are open. Withdraw one that you need no more, then ask again.")
            % {"max_open": MAX_OPEN}
        )
    return ask(member.organisation, user, {**data, "member": member})


@transaction.atomic
def withdraw_own_request(*, member: Member, user: User, request: BenderRequest) -> None:
    """Raises ValidationError where it is open no more."""
    check_acts_for(member=member, user=user)
    if request.member_id != member.pk:
        raise PermissionDenied(gettext("This is asked for by another member."))
    withdraw_asked(member.organisation, request)


@transaction.atomic
def make_own_feed(*, member: Member, user: User) -> CalendarFeed:
    """As ``feeds.make_feed``."""
    check_acts_for(member=member, user=user)
    return feeds.make_of(member.organisation, None, None, member)


@transaction.atomic
def revoke_own_feed(*, member: Member, user: User) -> None:
    """As ``feeds.revoke_feed``."""
    check_acts_for(member=member, user=user)
    feeds.revoke_of(member.organisation, None, None, member)


@transaction.atomic
def record_own_hoop(*, member: Member, user: User, booking: BenderBooking, data: Mapping[str, Any]) -> MeasuredHoop:
    """A hoop that the member measured on a bender that it has or had. Raises ValidationError by field."""
    check_acts_for(member=member, user=user)
    if booking.member_id != member.pk:
        raise PermissionDenied(gettext("This is booked by another member."))
    check_measured(booking, data)
    return store_hoop(organisation=member.organisation, user=user, bender=booking.bender, data=data, booking=booking)


@transaction.atomic
def take_back_own_hoop(*, member: Member, user: User, row: MeasuredHoop, reason: str) -> MeasuredHoop:
    """It was typed wrongly. Raises ValidationError without a reason, or where it is taken back already."""
    check_acts_for(member=member, user=user)
    if row.member_id != member.pk:
        raise PermissionDenied(gettext("This was measured by another member."))
    return withdraw_hoop(organisation=member.organisation, user=user, row=row, reason=reason)
