"""What bookings that came back come to and is not charged yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from hashlib import sha256
from typing import Any
from zoneinfo import ZoneInfo

from farmbuild.coop.books.season import Seasons, shares_of
from farmbuild.coop.charges.bridge import (
    ChargeLine,
    Since,
    day_lines,
    days_between,
    free_by_season,
    lines_amount,
    once_line,
)
from farmbuild.coop.charges.rates import ChargeRates, free_days_of
from farmbuild.coop.charges.words import said
from farmbuild.coop.models import BookingCharge, ChargeRate, MemberEntry
from farmbuild.crew.models import BenderBooking
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

Kind = MemberEntry.Kind
Rate = ChargeRate.Kind
#: Kinds of entries that a booking has, each once.
KINDS = (Kind.DAYS, Kind.PULLS, Kind.LATE)


def source_of(booking: BenderBooking) -> str:
    """What entries of a booking are posted for."""
    return f"booking {booking.pk}"


@dataclass(frozen=True)
class ProposedCharge:
    """``day``: on which the bender came back."""

    booking: BenderBooking
    kind: Kind
    day: date
    lines: list[ChargeLine]
    amount: Decimal
    what: str

    @property
    def source(self) -> str:
        return source_of(self.booking)

    @property
    def token(self) -> str:
        """Another one for anything that the page would show otherwise."""
        digest = sha256(f"{self.lines}{self.amount}{self.what}".encode()).hexdigest()
        return f"{self.booking.pk}:{self.kind}:{digest[:16]}"

    @property
    def stored(self) -> list[dict[str, Any]]:
        """As ``BookingCharge.lines``."""
        return [
            {
                "first": line.first.isoformat(),
                "last": line.last.isoformat(),
                "count": line.count,
                "free": line.free,
                "each": str(line.each),
                "once": line.once,
            }
            for line in self.lines
        ]


def stored_lines(rows: Iterable[dict[str, Any]]) -> list[ChargeLine]:
    """As they were when they were posted."""
    return [
        ChargeLine(
            first=date.fromisoformat(row["first"]),
            last=date.fromisoformat(row["last"]),
            count=row["count"],
            free=row["free"],
            each=Decimal(row["each"]),
            once=row["once"],
        )
        for row in rows
    ]


def days_out(booking: BenderBooking, zone: ZoneInfo) -> tuple[date, date]:
    """The day on which it left and the one on which it came back, by the clock there."""
    return booking.out_at.astimezone(zone).date(), booking.back_at.astimezone(zone).date()


class _FreeDays:
    """How many days for nothing each member has left, season by season."""

    def __init__(self, organisation: Organisation) -> None:
        rows = free_days_of(organisation=organisation).values_list("since", "days")
        self._allowed = [Since(since, Decimal(days)) for since, days in rows]
        self.seasons = Seasons(organisation)
        self._shares = shares_of(organisation) if self._allowed else {}
        self._used: dict[tuple[int, date], int] = defaultdict(int)

    def left(self, member: int, days: Sequence[date]) -> dict[date, int]:
        """As many as hold when the first of these days of a season begins."""
        found: dict[date, int] = {}
        for day in days if self._allowed else ():
            season = self.seasons.begun(day)
            if season not in found:
                held = [rate for rate in self._allowed if rate.since <= day]
                allowed = int(max(held, key=lambda rate: rate.since).each) if held else 0
                found[season] = allowed * self._shares.get(member, 1) - self._used[member, season]
        return found

    def use(self, member: int, lines: Iterable[ChargeLine]) -> None:
        for season, count in free_by_season(lines, self.seasons.begun).items():
            self._used[member, season] += count


def proposed_charges(*, organisation: Organisation) -> list[ProposedCharge]:
    """By the moment at which they came back. In few queries."""
    rates = ChargeRates(organisation)
    if rates.begins is None:
        return []
    zone = zone_of(organisation=organisation)
    came_back = BenderBooking.objects.of(organisation).filter(
        state=BenderBooking.State.BACK,
        member__isnull=False,
        out_at__isnull=False,
        # A day early, whatever the clock there says.
        back_at__date__gte=rates.begins - timedelta(days=1),
    )
    bookings = [*came_back.select_related("bender", "member").order_by("back_at", "pk")]
    standing = MemberEntry.objects.of(organisation).net().filter(kind__in=KINDS)
    posted = {*standing.values_list("source", "kind")}
    free = _FreeDays(organisation)
    charged = BookingCharge.objects.of(organisation).filter(entry__in=standing.filter(kind=Kind.DAYS))
    for member, lines in charged.values_list("entry__member", "lines"):
        free.use(member, stored_lines(lines))
    found = []
    for booking in bookings:
        for kind in KINDS:
            if (source_of(booking), kind) in posted:
                continue
            left_on, back_on = days_out(booking, zone)
            lines = _lines(booking, kind, left_on, back_on, rates, free)
            amount = lines_amount(lines, organisation.currency)
            if amount:
                what = said(booking, kind, lines, organisation)
                found.append(ProposedCharge(booking, kind, back_on, lines, amount, what))
    return found


def _lines(
    booking: BenderBooking, kind: Kind, left_on: date, back_on: date, rates: ChargeRates, free: _FreeDays
) -> list[ChargeLine]:
    bender = booking.bender_id
    if kind == Kind.PULLS:
        return once_line(back_on, booking.pulls or 0, rates.of(Rate.PULL, bender))
    if kind == Kind.LATE:
        late = days_between(max(booking.last + timedelta(days=1), left_on), back_on)
        by_day = day_lines(late, rates.of(Rate.LATE_DAY, bender))
        return by_day + once_line(back_on, int(bool(late)), rates.of(Rate.LATE, bender))
    days = days_between(left_on, back_on)
    lines = day_lines(
        days,
        rates.of(Rate.DAY, bender),
        free_left=free.left(booking.member_id, days),
        season_of=free.seasons.begun,
    )
    free.use(booking.member_id, lines)
    return lines
