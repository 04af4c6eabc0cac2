"""Hours and days off in words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time

from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import DayOff, WorkHours

DAYS = [str(name) for name in WorkHours.Day.labels]


def clock(moment: time) -> str:
    return f"{moment:%H:%M}"


def week_words(hours: Iterable[WorkHours]) -> str:
    """Monday to Friday 07:00 to 12:00 and 12:30 to 16:00; Saturday 08:00 to 12:00. ``hours`` rise."""
    spans: list[list[str]] = [[] for _ in DAYS]
    for row in hours:
        spans[row.day].append(f"{clock(row.starts)} to {clock(row.ends)}")
    parts: list[str] = []
    first = 0
    while first < len(DAYS):
        last = first
        while last + 1 < len(DAYS) and spans[last + 1] == spans[first]:
            last += 1
        if spans[first]:
            joined = " and " if last == first + 1 else " to "
            days = DAYS[first] if last == first else f"{DAYS[first]}{joined}{DAYS[last]}"
            parts.append(f"{days} {' and '.join(spans[first])}")
        first = last + 1
    return "; ".join(parts) or "no hours"


def week_minutes(hours: Iterable[WorkHours]) -> int:
    """Minutes worked in a week without a change of clocks."""
    return sum(_minutes(row.ends) - _minutes(row.starts) for row in hours)


def _minutes(moment: time) -> int:
    return moment.hour * 60 + moment.minute


def off_words(row: DayOff) -> str:
    """Fenn Aldous is off 8 March 2027 to 12 March 2027."""
    return f"{row.person or 'Everybody'} is off {days_words(row.first, row.last)}."


def days_words(first: date, last: date) -> str:
    if first == last:
        return day(first)
    return gettext("%(start)s to %(end)s") % {"start": day(first), "end": day(last)}
