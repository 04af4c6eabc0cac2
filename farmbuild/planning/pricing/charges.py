"""What a member pays for a bender: each day at its own day's price, some days free, pulls and a late return."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.measure import line_total

DAY = timedelta(days=1)


@dataclass(frozen=True)
class Since:
    """A price, or a number, that holds from a day on."""

    since: date
    each: Decimal


@dataclass(frozen=True)
class ChargeLine:
    """``count`` of one thing from ``first`` to ``last``, ``free`` of them for nothing, the others at ``each``.

    ``once``: not day by day.
    """

    first: date
    last: date
    count: int
    each: Decimal
    free: int = 0
    once: bool = False


def holds_on(rates: Iterable[Since], day: date) -> Decimal | None:
    """Of the latest that had begun; None before the first."""
    found = [rate for rate in rates if rate.since <= day]
    return max(found, key=lambda rate: rate.since).each if found else None


def days_between(first: date, last: date) -> list[date]:
    """Both included; none where ``last`` is before ``first``."""
    return [first + DAY * at for at in range((last - first).days + 1)]


def day_lines(
    days: Sequence[date],
    rates: Sequence[Since],
    *,
    free_left: Mapping[date, int] | None = None,
    season_of: Callable[[date], date] = lambda day: day.replace(month=1, day=1),
) -> list[ChargeLine]:
    """Days in a row at one price are a line; those before the first price are in none.

    ``free_left``: by the first day of a season, how many days of it are still for nothing; the earliest days have them.
    A day that costs nothing uses none up.
    """
    left = dict(free_left or {})
    lines: list[ChargeLine] = []
    for day in days:
        each = holds_on(rates, day)
        if each is None:
            continue
        season = season_of(day)
        free = int(each > 0 and left.get(season, 0) > 0)
        if free:
            left[season] -= 1
        before = lines[-1] if lines else None
        alike = before and before.last + DAY == day and before.each == each and bool(before.free) == bool(free)
        if before and alike:
            lines[-1] = ChargeLine(before.first, day, before.count + 1, each, before.free + free)
        else:
            lines.append(ChargeLine(day, day, 1, each, free))
    return lines


def once_line(day: date, count: int, rates: Sequence[Since]) -> list[ChargeLine]:
    """``count`` of one thing on a day; nothing where there is no price yet, or nothing to count."""
    each = holds_on(rates, day)
    return [] if each is None or not count else [ChargeLine(day, day, count, each, once=True)]


def lines_amount(lines: Iterable[ChargeLine], currency: str) -> Decimal:
    """Each line rounded to coins."""
    return sum((line_total(line.count - line.free, line.each, currency) for line in lines), Decimal(0))


def free_by_season(lines: Iterable[ChargeLine], season_of: Callable[[date], date]) -> dict[date, int]:
    """How many days for nothing the lines have, by the first day of their season."""
    found: dict[date, int] = {}
    for line in lines:
        for at in range(line.free):
            season = season_of(line.first + DAY * at)
            found[season] = found.get(season, 0) + 1
    return found
