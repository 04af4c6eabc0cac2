"""Writes of members and their requests, and bookings made of a proposal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.bookings.services import book
from farmbuild.crew.bookings.signins import close_sign_ins
from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.crew.people.calendar_services import LATEST
from farmbuild.crew.people.services import check_name, check_owner, lock_organisation
from farmbuild.crew.signals import archiving_member
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User

RESERVED = frozenset({"new"})


@dataclass(frozen=True)
class ProposedBooking:
    """One ticked row of a proposal."""

    request: int
    bender: int
    first: date
    last: date


@needs(Act.BENDERS)
@transaction.atomic
def save_member(
    *, organisation: Organisation, user: User, data: Mapping[str, Any], member: Member | None = None
) -> Member:
    """``data``: ``name``, ``contact`` and ``share``. The address stays. Raises ValidationError by field."""
    lock_organisation(organisation)
    rows = Member.objects.of(organisation)
    check_name(rows.filter(archived_at=None), data["name"], "member", but=member)
    if member:
        current = rows.get(pk=member.pk)
    else:
        slug = free_slug(data["name"], taken_in=rows, fallback="member", reserved=RESERVED)
        current = Member(organisation=organisation, slug=slug)
    current.name, current.contact = data["name"].strip(), data.get("contact", "").strip()
    current.share = data.get("share", current.share)
    current.full_clean()
    current.save()
    return current


@needs(Act.BENDERS)
@transaction.atomic
def archive_member(*, organisation: Organisation, user: User, member: Member) -> None:
    """Nothing new is lent to it and its sign-ins are shut. Raises ValidationError while it has a bender, a booking or
    an open request, or takes part in what a room above has open."""
    lock_organisation(organisation)
    held = BenderBooking.objects.of(organisation).filter(member=member)
    if held.filter(state="out").exists():
        raise ValidationError(gettext("%(member)s has a bender still. Check it in first.") % {"member": member})
    if held.filter(state="booked", last__gte=today_of(organisation=organisation)).exists():
        raise ValidationError(gettext("%(member)s has a booking to come. Cancel it first.") % {"member": member})
    if BenderRequest.objects.of(organisation).filter(member=member, state="asked").exists():
        raise ValidationError(gettext("%(member)s has an open request. Withdraw it first.") % {"member": member})
    archiving_member.send(Member, member=member)
    close_sign_ins(organisation=organisation, user=user, member=member)
    Member.objects.of(organisation).filter(pk=member.pk, archived_at=None).update(archived_at=timezone.now())


@needs(Act.BENDERS)
@transaction.atomic
def bring_back_member(*, organisation: Organisation, user: User, member: Member) -> None:
    lock_organisation(organisation)
    check_name(Member.objects.of(organisation).filter(archived_at=None), member.name, "member", but=member)
    Member.objects.of(organisation).filter(pk=member.pk).update(archived_at=None)


@needs(Act.BENDERS)
@transaction.atomic
def create_request(*, organisation: Organisation, user: User, data: Mapping[str, Any]) -> BenderRequest:
    """``data``: fields of BenderRequest. Raises ValidationError by field."""
    return ask(organisation, user, data)


def ask(organisation: Organisation, user: User, data: Mapping[str, Any]) -> BenderRequest:
    """Within the transaction of whoever may, for any member or for their own. Raises ValidationError by field."""
    check_owner(organisation, data)
    lock_organisation(organisation)
    if not Member.objects.filter(pk=data["member"].pk, archived_at=None).exists():
        raise ValidationError(
            {"member": gettext("%(data)s is archived. Choose another member.") % {"data": data["member"]}}
        )
    row = BenderRequest(organisation=organisation, asked_by=user, **data)
    today = today_of(organisation=organisation)
    if row.earliest < today:
        raise ValidationError(
            {"earliest": gettext("That day has passed. Type %(today)s or a later day.") % {"today": day(today)}}
        )
    if row.need_by < row.earliest:
        raise ValidationError(
            {
                "need_by": gettext("That is before %(earliest)s. Type the same day or a later one.")
                % {"earliest": day(row.earliest)}
            }
        )
    if row.need_by > LATEST:
        raise ValidationError({"need_by": gettext("That is too far off. Type a day before the year 2101.")})
    room = (row.need_by - row.earliest).days + 1
    if row.days > room:
        there = (
            gettext("is 1 day. Type 1")
            if room == 1
            else gettext("are %(room)s days. Type %(room)s or fewer") % {"room": room}
        )
        raise ValidationError(
            {
                "days": gettext("From %(earliest)s to %(need_by)s there %(there)s.")
                % {"earliest": day(row.earliest), "need_by": day(row.need_by), "there": there}
            }
        )
    row.full_clean()
    row.save()
    return row


@needs(Act.BENDERS)
@transaction.atomic
def withdraw_request(*, organisation: Organisation, user: User, request: BenderRequest) -> None:
    withdraw_asked(organisation, request)


def withdraw_asked(organisation: Organisation, request: BenderRequest) -> None:
    """As ``ask``. Raises ValidationError where it is open no more."""
    current = _open_request(organisation, request)
    current.state = BenderRequest.State.WITHDRAWN
    current.save(update_fields=["state"])


@needs(Act.BENDERS)
@transaction.atomic
def decline_request(*, organisation: Organisation, user: User, request: BenderRequest, reason: str) -> BenderRequest:
    """The member reads ``reason``. Raises ValidationError."""
    current = _open_request(organisation, request)
    if not reason.strip():
        raise ValidationError({"reason": gettext("Type why, for example: it is being mended until June.")})
    current.state, current.declined_because = BenderRequest.State.DECLINED, reason.strip()
    current.full_clean()
    current.save(update_fields=["state", "declined_because"])
    return current


def _open_request(organisation: Organisation, request: BenderRequest) -> BenderRequest:
    current = BenderRequest.objects.of(organisation).select_for_update().get(pk=request.pk)
    if current.state == BenderRequest.State.GIVEN:
        raise ValidationError(gettext("It is booked. Cancel the booking first."))
    if current.state != BenderRequest.State.ASKED:
        raise ValidationError(gettext("It is %(lower)s already.") % {"lower": current.get_state_display().lower()})
    return current


@needs(Act.BENDERS)
@transaction.atomic
def book_proposal(*, organisation: Organisation, user: User, wishes: Sequence[ProposedBooking]) -> list[BenderBooking]:
    """All of them, or none: raises ValidationError, naming whose days went meanwhile."""
    if not wishes:
        raise ValidationError(gettext("Tick at least one request to book."))
    if len({wish.request for wish in wishes}) < len(wishes):
        raise ValidationError(gettext("A request is booked once. Look at the page again."))
    requests = BenderRequest.objects.of(organisation).select_related("member").in_bulk([w.request for w in wishes])
    benders = Bender.objects.of(organisation).in_bulk([wish.bender for wish in wishes])
    made = []
    # By bender, so that two who confirm at once never wait for each other.
    for wish in sorted(wishes, key=lambda wish: (wish.bender, wish.first)):
        request, bender = requests.get(wish.request), benders.get(wish.bender)
        if request is None or bender is None:
            raise ValidationError(gettext("A request or bender is gone. Nothing was booked; look at the page again."))
        as_asked = request.earliest <= wish.first and wish.last <= request.need_by
        if not as_asked or (wish.last - wish.first).days + 1 != request.days:
            raise ValidationError(
                gettext("%(member)s asked for other days. Nothing was booked; look at the page again.")
                % {"member": request.member}
            )
        try:
            made.append(
                book(
                    organisation=organisation,
                    user=user,
                    bender=bender,
                    first=wish.first,
                    last=wish.last,
                    member=request.member,
                    request=request,
                )
            )
        except ValidationError as error:
            raise ValidationError(
                gettext(
                    "Something changed meanwhile for %(member)s: %(messages)s Nothing was booked; look at the"
                    " page again."
                )
                % {"member": request.member, "messages": " ".join(error.messages)}
            ) from error
    return made
