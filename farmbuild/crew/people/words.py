"""Hours and days off in words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time

from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext

from farmbuild.common.speaking import said_list
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import DayOff, WorkHours

DAYS = [*WEEKDAYS.values()]


def clock(moment: time) -> str:
    return f"{moment:%H:%M}"


def span_words(starts: time, ends: time) -> str:
    """07:00 to 12:00."""
    return gettext("%(start)s to %(end)s") % {"start": clock(starts), "end": clock(ends)}


def week_words(hours: Iterable[WorkHours]) -> str:
    """Monday to Friday 07:00 to 12:00 and 12:30 to 16:00; Saturday 08:00 to 12:00. ``hours`` rise."""
    spans: list[list[str]] = [[] for _ in DAYS]
    for row in hours:
        spans[row.day].append(span_words(row.starts, row.ends))
    parts: list[str] = []
    first = 0
    while first < len(DAYS):
        last = first
        while last + 1 < len(DAYS) and spans[last + 1] == spans[first]:
            last += 1
        if spans[first]:
            days = str(DAYS[first])
            if last == first + 1:
                days = said_list([days, str(DAYS[last])])
            elif last > first:
                days = gettext("%(start)s to %(end)s") % {"start": days, "end": DAYS[last]}
            parts.append(f"{days} {said_list(spans[first])}")
        first = last + 1
    return "; ".join(parts) or gettext("no hours")


def week_minutes(hours: Iterable[WorkHours]) -> int:
    """Minutes worked in a week without a change of clocks."""
    return sum(_minutes(row.ends) - _minutes(row.starts) for row in hours)


def _minutes(moment: time) -> int:
    return moment.hour * 60 + moment.minute


def off_words(row: DayOff) -> str:
    """Fenn Aldous is off 8 March 2027 to 12 March 2027."""
    if row.person is None:
        return gettext("Everybody is off %(days)s.") % {"days": days_words(row.first, row.last)}
    return gettext("%(person)s is off %(days)s.") % {"person": row.person, "days": days_words(row.first, row.last)}


def days_words(first: date, last: date) -> str:
    if first == last:
        return day(first)
    return gettext("%(start)s to %(end)s") % {"start": day(first), "end": day(last)}
