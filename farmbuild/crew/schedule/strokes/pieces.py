"""When a task is worked at, and where in that time each of its pieces stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import count as numbers
from zoneinfo import ZoneInfo

#: First and last of each shift of a day, rising.
Shifts = Sequence[tuple[time, time]]
#: More days than a task of the longest length of its own takes, weekends among them; longer ones stand as they are.
MAX_DAYS = 400


@dataclass(frozen=True)
class Run:
    """Work without a break; moments in UTC, in which an hour is an hour when clocks change."""

    starts: datetime
    ends: datetime

    @property
    def length(self) -> timedelta:
        return self.ends - self.starts


def moment(day: date, at: time, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, at, zone).astimezone(UTC)


def day_bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    return moment(day, time(), zone), moment(day + timedelta(days=1), time(), zone)


def worked_runs(
    starts: datetime,
    ends: datetime,
    *,
    shifts: Mapping[int, Shifts],
    closed: Sequence[tuple[date, date]],
    zone: ZoneInfo,
) -> list[Run]:
    """The hours of its crew from ``starts`` to ``ends``; all of the time, day by day, where it has none there.

    ``shifts``: of the crew, by the day of the week (0 is Monday); ``closed``: first and last of days off of everybody.
    """
    first, last = starts.astimezone(zone).date(), ends.astimezone(zone).date()
    days = [first + timedelta(days=n) for n in range(min((last - first).days, MAX_DAYS) + 1)]
    found: list[Run] = []
    for day in days:
        if any(one <= day <= other for one, other in closed):
            continue
        for opens, closes in shifts.get(day.weekday(), ()):
            found += _within(moment(day, opens, zone), moment(day, closes, zone), starts, ends)
    if found:
        return found
    return [run for day in days for run in _within(*day_bounds(day, zone), starts, ends)]


def _within(opens: datetime, closes: datetime, starts: datetime, ends: datetime) -> list[Run]:
    run = Run(max(opens, starts.astimezone(UTC)), min(closes, ends.astimezone(UTC)))
    return [run] if run.starts < run.ends else []


@dataclass(frozen=True)
class Stroke:
    """``share``: of what it stands for, how much is done, from 0 to 1."""

    at: datetime
    share: float


@dataclass(frozen=True)
class Strokes:
    """``each``: pieces that one stroke stands for; the last one may stand for fewer."""

    each: int
    marks: tuple[Stroke, ...]


def strokes_of(count: int, done: int, runs: Sequence[Run], *, an_hour: float) -> Strokes:
    """A stroke a piece, evenly over the runs; groups of a round number where an hour has more than ``an_hour``."""
    total = sum((run.length for run in runs), timedelta())
    if count <= 0 or not total:
        return Strokes(1, ())
    most = max(1.0, total / timedelta(hours=1) * an_hour)
    each = next(size for n in numbers() for size in (10**n, 2 * 10**n, 5 * 10**n) if count <= most * size)
    marks = []
    for first in range(0, count, each):
        last = min(first + each, count)
        share = min(max((done - first) / (last - first), 0.0), 1.0)
        marks.append(Stroke(_at((first + last) / 2 / count * total, runs), share))
    return Strokes(each, tuple(marks))


def _at(worked: timedelta, runs: Sequence[Run]) -> datetime:
    """When so much is worked; at the end of a run that moment, not the start of the next."""
    for run in runs:
        if worked <= run.length:
            return run.starts + worked
        worked -= run.length
    return runs[-1].ends


def by_then(count: int, runs: Sequence[Run], now: datetime) -> int:
    """Whole pieces that would be done at ``now``, done evenly over the runs."""
    total = sum((run.length for run in runs), timedelta())
    worked = sum((min(run.ends, now) - run.starts for run in runs if run.starts < now), timedelta())
    return int(count * worked / total) if total else 0


@dataclass(frozen=True)
class Hours:
    """The hours along which a day is drawn, from ``first`` to ``last`` by the clock on the wall; 24 is midnight."""

    day: date
    first: int
    last: int
    zone: ZoneInfo

    @property
    def starts(self) -> datetime:
        return moment(self.day, time(self.first), self.zone)

    @property
    def ends(self) -> datetime:
        if self.last == 24:
            return day_bounds(self.day, self.zone)[1]
        return moment(self.day, time(self.last), self.zone)

    @property
    def length(self) -> float:
        """In hours; one fewer or more where clocks change between them."""
        return (self.ends - self.starts) / timedelta(hours=1)

    def at(self, when: datetime) -> float:
        """Hours from the start."""
        return (when - self.starts) / timedelta(hours=1)

    def has(self, when: datetime) -> bool:
        return self.starts <= when <= self.ends

    @property
    def marks(self) -> list[tuple[float, str]]:
        """Each whole hour from the start, with what the clock says then."""
        found = []
        for n in range(int(self.length) + 1):
            local = (self.starts + timedelta(hours=n)).astimezone(self.zone)
            hour = "24" if local.date() > self.day else str(local.hour)
            found.append((float(n), f"{hour}:{local:%M}" if local.minute else hour))
        return found


def hours_of(runs: Sequence[Run], zone: ZoneInfo, *, least: int = 4) -> tuple[int, int]:
    """First and last whole hour by the clock of any of these runs, each within one day."""
    starts = [run.starts.astimezone(zone) for run in runs]
    ends = [run.ends.astimezone(zone) for run in runs]
    first = min((at.hour for at in starts), default=7)
    closing = [24 if (at.hour, at.minute) == (0, 0) else at.hour + (at.minute > 0) for at in ends]
    last = min(24, max(max(closing, default=17), first + least))
    return min(first, last - least), last
