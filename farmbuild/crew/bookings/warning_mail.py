"""Warnings of benders by e-mail: to everybody of a member that is booked, once a booking and finding."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from farmbuild.access import mail
from farmbuild.common.speaking import said
from farmbuild.crew.bookings.bender_warnings import warned_bookings
from farmbuild.crew.bookings.words import days_of
from farmbuild.crew.models import BenderBooking, Member, SentWarning
from farmbuild.crew.signals import asking_farms_of_member
from farmbuild.hoops.batches.measured.findings import Finding
from farmbuild.orgs.acts import Act, who_may
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.languages import in_language_of
from farmbuild.orgs.models import Organisation, User

_log = logging.getLogger(__name__)
#: How long whoever sends one has for it; what a process that ended left behind is taken up again then.
CLAIM = timedelta(minutes=10)


def send_due(*, site: str) -> Iterator[bool]:
    """For each that was tried whether it went out. ``site``: what addresses begin with, without a slash at the end."""
    lenders = Organisation.objects.filter(
        pk__in=BenderBooking.objects.filter(member__isnull=False).values("organisation")
    )
    for organisation in lenders.order_by("pk"):
        with zone_in_force(organisation):
            for booking, findings in list(warned_bookings(organisation=organisation)):
                if booking.member is None:
                    continue
                for user in readers_of(member=booking.member):
                    for finding in findings:
                        yield from _send(organisation, booking, user, finding, site)


def readers_of(*, member: Member) -> list[User]:
    """Whoever signs in for the member and has an e-mail; at a farm, who plans or runs benders there."""
    signed = User.objects.filter(Q(member_sign_in__member=member, member_sign_in__shut_at=None), is_active=True)
    found = {user.pk: user for user in signed.order_by("pk")}
    for _, farms in asking_farms_of_member.send(Member, member=member):
        for farm in farms:
            for act in (Act.PLAN, Act.BENDERS):
                found |= {user.pk: user for user in who_may(organisation=farm, act=act)}
    return [user for user in found.values() if user.email]


def _send(
    organisation: Organisation, booking: BenderBooking, user: User, finding: Finding, site: str
) -> Iterator[bool]:
    row = claim(booking=booking, user=user, finding=finding.key)
    if row is None:
        return
    sent = False
    try:
        with in_language_of(user, organisation):
            sent = mail.send(
                to=user.email,
                subject=f"{finding.bender}: {said(finding.title).lower()}, {days_of(booking)}",
                template="crew/bookings/warning.txt",
                user=user,
                organisation=organisation,
                finding=finding,
                days=days_of(booking),
                site=site,
            )
    except Exception:
        # One that cannot be written keeps nobody else from theirs.
        _log.exception("A warning of %s could not be written for %s.", finding.bender, user)
    if sent:
        SentWarning.objects.filter(pk=row.pk).update(sent_at=timezone.now())
    else:
        SentWarning.objects.filter(pk=row.pk, sent_at=None).update(claimed_until=timezone.now())
    yield sent


@transaction.atomic
def claim(*, booking: BenderBooking, user: User, finding: str) -> SentWarning | None:
    """Whoever gets a row sends it; None where it went out, or another process is at it."""
    now = timezone.now()
    about = {"organisation": booking.organisation, "booking": booking, "user": user, "finding": finding}
    row = SentWarning.objects.filter(**about).first()
    if row is None:
        try:
            with transaction.atomic():
                return SentWarning.objects.create(**about, claimed_until=now + CLAIM)
        except IntegrityError:
            # Another process was quicker.
            return None
    free = SentWarning.objects.filter(pk=row.pk, sent_at=None, claimed_until__lte=now)
    return row if free.update(claimed_until=now + CLAIM) else None
