"""When the invented work happened: moments of the past, gone through one after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from farmbuild.crew.actuals.hours import crew_day
from farmbuild.crew.models import Crew

#: Far enough back for all that a crew has done.
BACK = 40
_SATURDAY = 5

Span = tuple[datetime, datetime]


@contextmanager
def clock_at(moment: datetime) -> Iterator[None]:
    """Inside it the services take ``moment`` for now, so that what they record is of then.

    For the whole process: the demo is entered before its site is served.
    """
    known = timezone.now
    timezone.now = lambda: moment  # type: ignore[assignment]
    try:
        yield
    finally:
        timezone.now = known


@dataclass
class Diary:
    """What happened, in any order; ``play`` goes through it as it came. Days count from ``today``."""

    today: date
    zone: ZoneInfo
    entries: list[tuple[datetime, int, Callable[[], object]]] = field(default_factory=list)

    def at(self, moment: datetime, happened: Callable[[], object]) -> None:
        self.entries.append((moment, len(self.entries), happened))

    def on(self, days: int, hour: int, happened: Callable[[date], object]) -> None:
        """On a day of deliveries: the last from Monday to Friday that is not after the one named."""
        day = self.weekday(days)
        self.at(datetime.combine(day, time(hour), self.zone), lambda: happened(day))

    def weekday(self, days: int) -> date:
        """Back to Friday where the day is of the past, on to Monday where it is to come."""
        day, step = self.today + timedelta(days=days), timedelta(days=1 if days > 0 else -1)
        while day.weekday() >= _SATURDAY:
            day += step
        return day

    def play(self) -> None:
        for moment, _, happened in sorted(self.entries, key=lambda entry: entry[:2]):
            with clock_at(moment):
                happened()


def hours_before(crew: Crew, *, today: date, zone: ZoneInfo) -> list[Span]:
    """The working hours of the crew on the days before ``today``, a span between two rests."""
    days = [crew_day(crew=crew, day=today - timedelta(days=n), zone=zone) for n in range(BACK, 0, -1)]
    return [
        (datetime.combine(row.day, begins, zone), datetime.combine(row.day, ends, zone))
        for row in days
        for begins, ends in row.spans or ()
    ]


class CrewTime:
    """The last ``minutes`` of ``hours`` until a moment, dealt out one after the other."""

    def __init__(self, hours: Sequence[Span], *, minutes: int, until: datetime) -> None:
        self.spans = [(begins, min(ends, until)) for begins, ends in hours if begins < until]
        self.take(sum(map(_minutes, self.spans)) - minutes)

    def take(self, minutes: int) -> list[Span]:
        """The next so many minutes, parted where the crew rests."""
        taken = []
        while minutes:
            begins, ends = self.spans[0]
            some = min(minutes, _minutes(self.spans[0]))
            taken.append((begins, begins + timedelta(minutes=some)))
            minutes -= some
            if taken[-1][1] == ends:
                del self.spans[0]
            else:
                self.spans[0] = (taken[-1][1], ends)
        return taken


def _minutes(span: Span) -> int:
    """Of one day, on which no clock is changed while people work."""
    return int((span[1] - span[0]).total_seconds()) // 60
