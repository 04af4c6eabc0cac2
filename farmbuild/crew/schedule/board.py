"""A week of work, listed by day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from farmbuild.crew.models import Task
from farmbuild.crew.people.words import span_words
from farmbuild.crew.schedule.selectors import midnight
from farmbuild.crew.schedule.strokes.pieces import Shifts

#: Rows beyond these are counted, not listed.
MAX_ROWS = 300


@dataclass(frozen=True)
class Line:
    """One task on one day; times are those of the day."""

    task: Task
    day: date
    starts: datetime
    ends: datetime

    @property
    def clock(self) -> str:
        return span_words(self.starts.time(), self.ends.time())


@dataclass(frozen=True)
class Week:
    first: date
    lines: tuple[Line, ...]
    left_out: int

    @property
    def last(self) -> date:
        return self.first + timedelta(days=6)

    @property
    def days(self) -> list[tuple[date, list[Line]]]:
        """Days with work, in order."""
        found = [self.first + timedelta(days=n) for n in range(7)]
        by_day = [(day, [line for line in self.lines if line.day == day]) for day in found]
        return [(day, lines) for day, lines in by_day if lines]

    @property
    def task_count(self) -> int:
        return len({line.task.pk for line in self.lines}) + self.left_out

    @property
    def crew_count(self) -> int:
        return len({line.task.crew_id for line in self.lines})

    @property
    def site_count(self) -> int:
        return len({line.task.house.site_id for line in self.lines})


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def week_of(
    tasks: Sequence[Task],
    first: date,
    zone: ZoneInfo,
    shifts: Mapping[int, Mapping[int, Shifts]],
    *,
    left_out: int = 0,
) -> Week:
    """Each day of a task is cut to the hours of its crew, and is left out where there are none.

    ``shifts``: by crew and day of the week (0 is Monday). A task with none of them, placed by hand or before they were
    changed, stands as it is.
    """
    lines = []
    for order, task in enumerate(tasks):
        stands = []
        for n in range(7):
            day = first + timedelta(days=n)
            starts = max(task.starts_at, midnight(day, zone)).astimezone(zone)
            ends = min(task.ends_at, midnight(day + timedelta(days=1), zone)).astimezone(zone)
            if starts < ends:
                stands.append(Line(task, day, starts, ends))
        open_on = shifts.get(task.crew_id)
        worked = (
            stands if open_on is None else [_clipped(line, open_on) for line in stands if line.day.weekday() in open_on]
        )
        found = [line for line in worked if line.starts < line.ends] or stands
        lines.extend((order, line) for line in found)
    lines.sort(key=lambda row: (row[1].day, row[1].starts, row[0]))
    return Week(first, tuple(line for _, line in lines), left_out)


def _clipped(line: Line, shifts: Mapping[int, Shifts]) -> Line:
    spans = shifts[line.day.weekday()]
    opens, closes = (datetime.combine(line.day, at, line.starts.tzinfo) for at in (spans[0][0], spans[-1][1]))
    return replace(line, starts=max(line.starts, opens), ends=min(line.ends, closes))
