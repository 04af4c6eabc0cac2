"""Reads for one member alone. Every one starts from the member; what others have is told as taken, without a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q, QuerySet
from django.utils.translation import gettext

from farmbuild.crew.bookings.measuring import MEASURES
from farmbuild.crew.bookings.selectors import Late, bookings_of, late_of, requests_of, spans_of
from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.crew.people.words import days_words
from farmbuild.hoops.batches.measured.models import MeasuredHoop
from farmbuild.hoops.benders.models import Bender

State = BenderBooking.State


@dataclass(frozen=True)
class Stretch:
    """Days in a row on which a bender is taken; ``booking``: the member's own, None for anybody else's."""

    first: date
    last: date
    booking: BenderBooking | None = None

    @property
    def words(self) -> str:
        days = {"days": days_words(self.first, self.last)}
        return gettext("yours %(days)s") % days if self.booking else gettext("taken %(days)s") % days


def own_bookings_of(*, member: Member) -> QuerySet[BenderBooking]:
    return bookings_of(organisation=member.organisation).filter(member=member)


def own_measured_bookings_of(*, member: Member) -> QuerySet[BenderBooking]:
    """Those of which the member may write down a hoop."""
    return own_bookings_of(member=member).filter(state__in=MEASURES)


def own_open_bookings_of(*, member: Member, today: date) -> QuerySet[BenderBooking]:
    """Out, or booked and not over; the next first."""
    open_now = Q(state=State.OUT) | Q(state=State.BOOKED, last__gte=today)
    return own_bookings_of(member=member).filter(open_now).order_by("first", "pk")


def own_past_bookings_of(*, member: Member, today: date) -> QuerySet[BenderBooking]:
    """The latest first."""
    over = Q(state__in=[State.BACK, State.CANCELLED]) | Q(state=State.BOOKED, last__lt=today)
    return own_bookings_of(member=member).filter(over).order_by("-last", "-pk")


def own_hoops_of(*, member: Member) -> QuerySet[MeasuredHoop]:
    """That the member measured at a booking of its own, those taken back too."""
    rows = MeasuredHoop.objects.of(member.organisation_id).filter(member=member, booking__isnull=False)
    return rows.select_related("bender", "tube", "organisation").order_by("-day", "-pk")


def own_requests_of(*, member: Member) -> QuerySet[BenderRequest]:
    return requests_of(organisation=member.organisation).filter(member=member)


def own_open_requests_of(*, member: Member) -> QuerySet[BenderRequest]:
    return own_requests_of(member=member).filter(state=BenderRequest.State.ASKED)


def own_answered_requests_of(*, member: Member) -> QuerySet[BenderRequest]:
    """Booked, declined or withdrawn."""
    return own_requests_of(member=member).exclude(state=BenderRequest.State.ASKED)


def own_benders_out(*, member: Member) -> QuerySet[BenderBooking]:
    return own_bookings_of(member=member).filter(state=State.OUT)


def own_next_booking(*, member: Member, today: date) -> BenderBooking | None:
    """The first that is booked and not over."""
    return own_open_bookings_of(member=member, today=today).filter(state=State.BOOKED).first()


def own_late_of(*, member: Member, today: date) -> list[Late]:
    """Of ``next`` a page shows the day alone, not whose it is."""
    return [row for row in late_of(organisation=member.organisation, today=today) if row.booking.member_id == member.pk]


def free_on(day: date, stretches: Mapping[int, Sequence[Stretch]]) -> int:
    """Of the benders of ``stretches_of``, how many nobody has on the day."""
    return sum(not any(row.first <= day <= row.last for row in rows) for rows in stretches.values())


def stretches_of(
    *, member: Member, benders: Sequence[Bender], start: date, end: date, today: date
) -> dict[int, list[Stretch]]:
    """By bender key, what is taken from ``start`` to ``end``. Others' days next to each other are one stretch, so that
    it does not show where one ends and the next begins."""
    found: dict[int, list[Stretch]] = {bender.pk: [] for bender in benders}
    for row, gone in spans_of(organisation=member.organisation, today=today, benders=benders):
        first, last = max(row.first, start), min(gone, end)
        if first > last:
            continue
        rows = found[row.bender_id]
        mine = row if row.member_id == member.pk else None
        before = rows[-1] if rows else None
        if mine is None and before and before.booking is None and first <= before.last + timedelta(days=1):
            rows[-1] = Stretch(before.first, max(before.last, last))
        else:
            rows.append(Stretch(first, last, mine))
    return found
