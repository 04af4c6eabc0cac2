"""A week of work: drawn with days across and a row for each crew, and listed by day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.safestring import SafeString

from farmbuild.common.drawing import Drawing
from farmbuild.crew.models import Task
from farmbuild.crew.schedule.selectors import midnight

#: Rows beyond these are counted, not listed.
MAX_ROWS = 300
_ROW, _DAY, _BAR = 100.0, 100.0, 34.0
#: A bar narrower than this has its number above it, on one of three levels so that neighbours do not touch.
_NARROW, _LEVELS = 20.0, 3


@dataclass(frozen=True)
class Line:
    """One task on one day. ``number`` is the figure that it has on the drawing; times are those of the day."""

    number: int
    task: Task
    day: date
    starts: datetime
    ends: datetime

    @property
    def clock(self) -> str:
        return f"{self.starts:%H:%M} to {self.ends:%H:%M}"


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
    open_days: dict[int, set[int]],
    hours: dict[tuple[int, int], tuple[time, time]],
    *,
    left_out: int = 0,
) -> Week:
    """Each day of a task is cut to the hours of its crew, and is left out where there are none.

    ``open_days``: by crew, the days of the week (0 is Monday) on which it works. ``hours``: first and last of (crew,
    day of the week). A task with none of them, placed by hand or before they were changed, stands as it is.
    """
    lines = []
    for number, task in enumerate(tasks, 1):
        stands = []
        for n in range(7):
            day = first + timedelta(days=n)
            starts = max(task.starts_at, midnight(day, zone)).astimezone(zone)
            ends = min(task.ends_at, midnight(day + timedelta(days=1), zone)).astimezone(zone)
            if starts < ends:
                stands.append(Line(number, task, day, starts, ends))
        open_on = open_days.get(task.crew_id, set(range(7)))
        worked = [_clipped(line, hours) for line in stands if line.day.weekday() in open_on]
        lines.extend([line for line in worked if line.starts < line.ends] or stands)
    lines.sort(key=lambda line: (line.day, line.starts, line.number))
    return Week(first, tuple(lines), left_out)


def _clipped(line: Line, hours: dict[tuple[int, int], tuple[time, time]]) -> Line:
    span = hours.get((line.task.crew_id, line.day.weekday()))
    if span is None:
        return line
    opens, closes = (datetime.combine(line.day, at, line.starts.tzinfo) for at in span)
    return replace(line, starts=max(line.starts, opens), ends=min(line.ends, closes))


def drawing_of(week: Week) -> SafeString:
    """Bars by the clock of each day, each with the number it has in the list; thin ones are done."""
    crews = {line.task.crew_id: line.task.crew.name for line in week.lines}
    order = sorted(crews, key=lambda key: (crews[key], key))
    first, last = _hours(week)
    wide, high = 7 * _DAY, _ROW * len(order)
    listing = "; ".join(
        f"{line.number}, {line.task.crew}, {_words(line)}, {line.day:%A} {line.clock}" for line in week.lines
    )
    when = f"{week.first.day} {week.first:%B %Y}"
    drawing = Drawing(wide, high, f"Work in the week from {when}", f"By number, as listed below: {listing}.")
    for n in range(8):
        drawing.line(n * _DAY, 0, n * _DAY, high, "thin")
        if n < 7:
            day = week.first + timedelta(days=n)
            drawing.text((n + 0.5) * _DAY, high + drawing.mm(6), f"{day:%a} {day.day}")
    for row, crew in enumerate(order):
        top = high - row * _ROW
        drawing.line(0, top - _ROW, wide, top - _ROW, "thin")
        drawing.text(-drawing.mm(3), top - _ROW + _BAR * 0.5, crews[crew], anchor="end")
        for at, line in enumerate(line for line in week.lines if line.task.crew_id == crew):
            _bar(drawing, line, week, (first, last), top, at)
    return drawing.svg()


def _words(line: Line) -> str:
    return f"{line.task.get_kind_display()}, {line.task.house}"


def _bar(drawing: Drawing, line: Line, week: Week, hours: tuple[float, float], top: float, at: int) -> None:
    first, last = hours

    def across(moment: datetime, *, end: bool = False) -> float:
        share = (_hour(moment, end=end) - first) / (last - first)
        return (line.day - week.first).days * _DAY + share * _DAY

    left, right = across(line.starts), across(line.ends, end=True)
    done = line.task.state == Task.State.DONE
    bottom = top - _ROW + 6
    up = _BAR * 0.32 if right - left >= _NARROW else _BAR + 4 + (at % _LEVELS) * 17
    label = f"{line.number}: {_words(line)}, {line.clock}"
    with drawing.link(reverse("crew:task", args=[line.task.pk]), label):
        drawing.rect(left, bottom, right - left, _BAR, "fill thin" if done else "fill")
        drawing.text((left + right) / 2, bottom + up, line.number)


def _hour(moment: datetime, *, end: bool = False) -> float:
    hour = moment.hour + moment.minute / 60
    return 24.0 if end and hour == 0 else hour


def _hours(week: Week) -> tuple[float, float]:
    """From and to which hour a day is drawn."""
    first = min((_hour(line.starts) for line in week.lines), default=7.0)
    last = max((_hour(line.ends, end=True) for line in week.lines), default=17.0)
    return first, max(last, first + 1)
