"""Working hours by the clock on the wall, turned into windows of real time.

A moment is worked when the wall clock then shows working hours: the hour that a spring day leaves out is not worked,
the hour that an autumn day shows twice is worked twice. Zones and their clock changes are those of the IANA database.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

from farmbuild.planning.scheduling.inputs import Window

SLOT_MINUTES = 15
SLOT = timedelta(minutes=SLOT_MINUTES)
#: Clocks do not change twice in so short a time.
_LOOK = timedelta(hours=6)
_DAY = timedelta(days=1)

#: Both days included.
Days = tuple[date, date]


@dataclass(frozen=True)
class Hours:
    """Every week on ``day`` (0 is Monday) from ``starts`` up to, not including, ``ends``."""

    day: int
    starts: time
    ends: time


@dataclass(frozen=True)
class _Stretch:
    start: datetime
    end: datetime
    people: int


def next_slot(moment: datetime) -> datetime:
    """The first quarter of an hour that is not before ``moment``, in UTC. ValueError: it has no time zone."""
    _check_aware(moment)
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    return epoch - (epoch - moment) // SLOT * SLOT


def slots_of(minutes: int) -> int:
    """Whole slots that ``minutes`` take, rounded up."""
    return -(-minutes // SLOT_MINUTES)


def crew_windows(
    *,
    hours: Sequence[Hours],
    people: Sequence[Sequence[Days]],
    zone: str,
    start: datetime,
    days: int,
    closed: Sequence[Days] = (),
) -> tuple[Window, ...]:
    """How many of a crew are there, and when, in slots of real time counted from ``start``.

    ``people``: the days off of each; ``closed``: the days off of everybody. ``days`` is how many days of the local
    calendar, the day of ``start`` being the first. Hours of a day that overlap count once. A slot counts when the
    whole of it is worked; the windows rise, are apart or differ in people, and leave out when nobody is there.
    ValueError: ``start`` has no time zone or is not on a quarter of an hour (see ``next_slot``), since rounding here
    would shift every slot against the times that the caller reads from them. ZoneInfoNotFoundError: no such zone.
    """
    _check_aware(start)
    start = start.astimezone(UTC)
    if next_slot(start) != start:
        raise ValueError(f"{start} is not on a quarter of an hour")
    local = ZoneInfo(zone)
    last = start.astimezone(local).date() + days * _DAY
    spans = _by_day(hours)
    found: list[_Stretch] = []
    for begun, ended, offset in _between_changes(start, start + (days + 2) * _DAY, local):
        day = (begun + offset).date()
        while day < last and day <= (ended + offset).date():
            here = 0 if _off(day, closed) else sum(not _off(day, person) for person in people)
            for starts, ends in spans[day.weekday()] if here else ():
                first = max(begun, datetime.combine(day, starts, UTC) - offset)
                until = min(ended, datetime.combine(day, ends, UTC) - offset)
                if first < until:
                    _add(found, _Stretch(first, until, here))
            day += _DAY
    windows = (Window(-((start - row.start) // SLOT), (row.end - start) // SLOT, row.people) for row in found)
    return tuple(window for window in windows if window.start < window.end)


def _check_aware(moment: datetime) -> None:
    if moment.utcoffset() is None:
        raise ValueError(f"{moment} has no time zone")


def _by_day(hours: Sequence[Hours]) -> list[list[tuple[time, time]]]:
    """For each day of the week its hours, rising and apart."""
    spans: list[list[tuple[time, time]]] = [[] for _ in range(7)]
    for row in sorted(hours, key=lambda row: row.starts):
        day = spans[row.day]
        if row.ends <= row.starts:
            continue
        if day and row.starts <= day[-1][1]:
            day[-1] = (day[-1][0], max(day[-1][1], row.ends))
        else:
            day.append((row.starts, row.ends))
    return spans


def _off(day: date, stretches: Sequence[Days]) -> bool:
    return any(first <= day <= last for first, last in stretches)


def _add(found: list[_Stretch], row: _Stretch) -> None:
    if found and found[-1].end == row.start and found[-1].people == row.people:
        row = _Stretch(found.pop().start, row.end, row.people)
    found.append(row)


def _between_changes(start: datetime, end: datetime, local: tzinfo) -> Iterator[tuple[datetime, datetime, timedelta]]:
    """Stretches of UTC in which the clocks do not change, and how far the wall clock is ahead of UTC in each."""
    begun, offset, at = start, _offset(start, local), start
    while at < end:
        ahead = min(at + _LOOK, end)
        if _offset(ahead, local) != offset:
            low, high = at, ahead
            while high - low > timedelta(seconds=1):
                middle = low + (high - low) // timedelta(seconds=2) * timedelta(seconds=1)
                low, high = (middle, high) if _offset(middle, local) == offset else (low, middle)
            yield begun, high, offset
            begun, offset = high, _offset(high, local)
        at = ahead
    if begun < end:
        yield begun, end, offset


def _offset(moment: datetime, local: tzinfo) -> timedelta:
    found = moment.astimezone(local).utcoffset()
    assert found is not None
    return found
