"""How many days each member had a bender, as sharing counts them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from farmbuild.crew.models import BenderBooking, Member, SharingRules
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation

State = BenderBooking.State


@dataclass(frozen=True)
class Season:
    """``start``: of this season; it counts what is booked to come too. ``before``: start of the one before."""

    start: date
    before: date


@dataclass(frozen=True)
class Had:
    """Days, both ends counted. ``open_days``: booked or out, from today on. ``until``: the last day of the latest."""

    days: int = 0
    last_season: int = 0
    open_days: int = 0
    until: date | None = None


def sharing_rules_of(*, organisation: Organisation) -> SharingRules:
    """Those that the cooperative set, or the defaults."""
    found = SharingRules.objects.filter(organisation=organisation).first()
    return found or SharingRules(organisation=organisation)


def season_of(rules: SharingRules, today: date) -> Season:
    start = date(today.year, rules.season_month, rules.season_day)
    if start > today:
        start = start.replace(year=start.year - 1)
    return Season(start, start.replace(year=start.year - 1))


def had_by_member(*, organisation: Organisation, rules: SharingRules, member: Member | None = None) -> dict[int, Had]:
    """By member key, of everybody who ever had one, or of ``member`` alone; one query.

    Actual days, out to back, where they are known; else those booked. A cancelled booking is none, and a bender that is
    out late is had through today.
    """
    today, zone = today_of(organisation=organisation), zone_of(organisation=organisation)
    season = season_of(rules, today)
    rows = BenderBooking.objects.of(organisation).exclude(state=State.CANCELLED).filter(member__isnull=False)
    if member is not None:
        rows = rows.filter(member=member)
    days: dict[int, list[int]] = defaultdict(lambda: [0, 0, 0])
    until: dict[int, date] = {}
    for key, state, first, last, out_at, back_at in rows.values_list(
        "member", "state", "first", "last", "out_at", "back_at"
    ):
        start, end = _actual(state, first, last, _day(out_at, zone), _day(back_at, zone), today)
        counted = days[key]
        counted[0] += _days_from(max(start, season.start), end)
        counted[1] += _days_from(max(start, season.before), min(end, season.start - timedelta(days=1)))
        if state != State.BACK:
            counted[2] += _days_from(max(start, today), end)
        until[key] = max(end, until.get(key, end))
    return {key: Had(*counted, until[key]) for key, counted in days.items()}


def had_of(*, member: Member) -> Had:
    """Of one member, by the rules of its cooperative."""
    organisation = member.organisation
    rules = sharing_rules_of(organisation=organisation)
    return had_by_member(organisation=organisation, rules=rules, member=member).get(member.pk, Had())


def _day(moment: datetime | None, zone: ZoneInfo) -> date | None:
    return moment.astimezone(zone).date() if moment else None


def _actual(state: str, first: date, last: date, out: date | None, back: date | None, today: date) -> tuple[date, date]:
    if state == State.BOOKED:
        return first, last
    start = out or first
    end = max(last, today) if state == State.OUT else back or last
    return start, max(start, end)


def _days_from(first: date, last: date) -> int:
    return max(0, (last - first).days + 1)
