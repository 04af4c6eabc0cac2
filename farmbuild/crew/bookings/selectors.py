"""Reads of members, requests and bookings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When

from farmbuild.crew.models import BenderBooking, BenderRequest, Member
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

State = BenderBooking.State
#: Bookings that keep a bender from others.
COUNTS = (State.BOOKED, State.OUT)


@dataclass(frozen=True)
class Late:
    """A bender that is not back though its last day has passed. ``delays``: the bookings that start before it can be
    back, at the earliest tomorrow; if there are none, ``next`` is the one that comes."""

    booking: BenderBooking
    days: int
    delays: tuple[BenderBooking, ...]
    next: BenderBooking | None


def members_of(*, organisation: Organisation) -> QuerySet[Member]:
    """In use, with ``open_requests`` and ``open_bookings``."""
    return any_member_of(organisation=organisation).filter(archived_at=None)


def any_member_of(*, organisation: Organisation) -> QuerySet[Member]:
    return (
        Member.objects.of(organisation)
        .annotate(
            open_requests=Count("requests", filter=Q(requests__state="asked"), distinct=True),
            open_bookings=Count("bookings", filter=Q(bookings__state__in=COUNTS), distinct=True),
        )
        .order_by("name", "pk")
    )


def requests_of(*, organisation: Organisation) -> QuerySet[BenderRequest]:
    """Open ones first, by need date; with member, bender and tube loaded."""
    first = Case(When(state="asked", then=Value(0)), default=Value(1), output_field=IntegerField())
    rows = BenderRequest.objects.of(organisation).select_related("member", "bender", "tube", "asked_by")
    return rows.order_by(first, "need_by", "pk")


def open_requests_of(*, organisation: Organisation) -> QuerySet[BenderRequest]:
    return requests_of(organisation=organisation).filter(state=BenderRequest.State.ASKED)


def answered_requests_of(*, organisation: Organisation) -> QuerySet[BenderRequest]:
    """Booked, declined or withdrawn."""
    return requests_of(organisation=organisation).exclude(state=BenderRequest.State.ASKED)


def bookings_of(*, organisation: Organisation) -> QuerySet[BenderBooking]:
    return BenderBooking.objects.of(organisation).select_related("bender", "member", "request")


def benders_out(*, organisation: Organisation) -> QuerySet[BenderBooking]:
    return bookings_of(organisation=organisation).filter(state=State.OUT)


def open_bookings_of(*, organisation: Organisation, today: date) -> QuerySet[BenderBooking]:
    """Out, or booked and not over; the next first."""
    rows = bookings_of(organisation=organisation).filter(Q(state=State.OUT) | Q(state=State.BOOKED, last__gte=today))
    return rows.order_by("first", "bender__name", "pk")


def past_bookings_of(*, organisation: Organisation, today: date) -> QuerySet[BenderBooking]:
    """Back, cancelled, or never fetched; the latest first."""
    rows = bookings_of(organisation=organisation)
    return rows.filter(Q(state__in=[State.BACK, State.CANCELLED]) | Q(state=State.BOOKED, last__lt=today)).order_by(
        "-last", "-pk"
    )


def late_of(*, organisation: Organisation, today: date) -> tuple[Late, ...]:
    """The latest first. Two queries."""
    out = list(benders_out(organisation=organisation).filter(last__lt=today).order_by("last", "pk"))
    coming: Mapping[int, list[BenderBooking]] = defaultdict(list)
    rows = bookings_of(organisation=organisation).filter(
        state=State.BOOKED, last__gte=today, bender__in=[row.bender_id for row in out]
    )
    for row in rows.order_by("first"):
        coming[row.bender_id].append(row)
    found = []
    for booking in out:
        after = coming[booking.bender_id]
        delays = tuple(row for row in after if row.first <= today)
        found.append(Late(booking, (today - booking.last).days, delays, after[0] if after else None))
    return tuple(found)


def kept_through(state: str, last: date, today: date) -> date:
    """The last day of a booking that counts; a bender that is out late is gone through today."""
    return max(last, today) if state == State.OUT else last


def spans_of(
    *, organisation: Organisation, today: date, benders: Collection[Bender] | None = None
) -> list[tuple[BenderBooking, date]]:
    """Every booking that keeps a bender (one of ``benders``) from others from today on, and the last day that it does:
    today at the earliest while the bender is out."""
    rows = open_bookings_of(organisation=organisation, today=today)
    if benders is not None:
        rows = rows.filter(bender__in=benders)
    return [(row, kept_through(row.state, row.last, today)) for row in rows]


def bender_blocks(organisation: Organisation, start: date, days: int) -> dict[int, list[tuple[date, date]]]:
    """By bender key, when members have it: first and last day, both included, of stretches that touch the ``days``
    from ``start``. A bender that is out late is gone through today."""
    today, end = today_of(organisation=organisation), start + timedelta(days=days - 1)
    rows = BenderBooking.objects.of(organisation).filter(state__in=COUNTS, member__isnull=False, first__lte=end)
    found: dict[int, list[tuple[date, date]]] = defaultdict(list)
    for bender, state, first, last in rows.order_by("first").values_list("bender", "state", "first", "last"):
        gone = kept_through(state, last, today)
        if gone >= start:
            found[bender].append((first, gone))
    return dict(found)


def fits_of(*, organisation: Organisation, requests: list[BenderRequest]) -> dict[int, list[Bender]]:
    """Benders in use that each request could have: the one it names, or all that fit its tube; one without a list of
    tubes fits any. Two queries."""
    benders = list(Bender.objects.of(organisation).filter(archived_at=None).order_by("name", "pk"))
    tubes: dict[int, set[int]] = defaultdict(set)
    for bender, tube in Bender.tubes.through.objects.filter(bender__organisation=organisation).values_list(
        "bender", "material"
    ):
        tubes[bender].add(tube)

    def fits(bender: Bender, request: BenderRequest) -> bool:
        if request.bender_id:
            return bender.pk == request.bender_id
        return request.tube_id is None or not tubes[bender.pk] or request.tube_id in tubes[bender.pk]

    return {request.pk: [bender for bender in benders if fits(bender, request)] for request in requests}
