"""The days of a week, a row a crew: which task is worked at when, how far it is, and how far it would be by now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cached_property
from typing import Any
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day_of_year
from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Task
from farmbuild.crew.schedule.strokes.pieces import (
    Hours,
    Run,
    Shifts,
    Stroke,
    Strokes,
    by_then,
    hours_of,
    strokes_of,
    worked_runs,
)
from farmbuild.measure import format_count, noun_for

#: Rows of a crew and day beyond these are not drawn; they stand in the list.
MAX_ROWS = 60


@dataclass(frozen=True)
class Worked:
    """A task with all the runs that it takes, in this week or not."""

    task: Task
    runs: tuple[Run, ...]
    zone: ZoneInfo
    now: datetime

    def strokes(self, an_hour: float) -> Strokes:
        return strokes_of(self.task.count, self.task.done, self.runs, an_hour=an_hour)

    @cached_property
    def by_day(self) -> dict[date, list[Run]]:
        found: dict[date, list[Run]] = {}
        for run in self.runs:
            found.setdefault(run.starts.astimezone(self.zone).date(), []).append(run)
        return found

    def on(self, day: date) -> list[Run]:
        return self.by_day.get(day, [])

    def marks_on(self, day: date, strokes: Strokes) -> list[Stroke]:
        """A stroke at the very end of a run belongs to it, one at its start to the run before."""
        runs = self.on(day)
        return [mark for mark in strokes.marks if any(run.starts < mark.at <= run.ends for run in runs)]

    @cached_property
    def step(self) -> str:
        return self.task.get_kind_display()

    @cached_property
    def house(self) -> str:
        return str(self.task.house)

    @property
    def href(self) -> str:
        return reverse("crew:task", args=[self.task.pk])

    @cached_property
    def progress(self) -> str:
        """26 posts; 9 of 26 posts, 12 by now; 26 posts, done."""
        task, units = self.task, task_unit(self.task)
        if not task.count:
            return task.get_state_display().lower()
        whole = f"{format_count(task.count)} {gettext(noun_for(task.count, *units))}"
        part = gettext("%(done)s of %(whole)s") % {"done": format_count(task.done), "whole": whole}
        if task.state == Task.State.DONE:
            return gettext("%(pieces)s, done") % {"pieces": whole if task.done >= task.count else part}
        so_far = part if task.done or task.state == Task.State.STARTED else whole
        due = by_then(task.count, self.runs, self.now)
        if not due or self.runs[0].starts >= self.now:
            return so_far
        return gettext("%(so_far)s, %(due)s by now") % {"so_far": so_far, "due": format_count(due)}

    def group(self, each: int) -> str:
        """What a stroke stands for, where that is more than a piece."""
        return gettext("%(pieces)s a stroke") % {"pieces": format_count(each)} if each > 1 else ""

    def clock(self, day: date) -> str:
        times = [(run.starts.astimezone(self.zone), run.ends.astimezone(self.zone)) for run in self.on(day)]
        words = gettext("%(begun)s to %(ended)s")
        return gettext(" and ").join(
            words % {"begun": f"{starts:%H:%M}", "ended": f"{ends:%H:%M}"} for starts, ends in times
        )

    @property
    def told(self) -> tuple[Any, ...]:
        """All that its drawing on any day goes by."""
        task = self.task
        return (task.pk, self.href, self.step, self.house, self.progress, task.count, task.done, self.runs, self.zone)

    def said(self, day: date) -> str:
        return f"{self.step}, {self.house}, {self.clock(day)}: {self.progress}"


@dataclass(frozen=True, eq=False)
class Row:
    """A crew on a day. Two are the same that are drawn the same."""

    crew: str
    hours: Hours
    entries: tuple[Worked, ...]
    #: Where it is on this day.
    now: datetime | None

    @cached_property
    def _told(self) -> tuple[Any, ...]:
        return (self.crew, self.hours, self.now, tuple(entry.told for entry in self.entries))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Row) and self._told == other._told

    def __hash__(self) -> int:
        return hash(self._told)

    @property
    def day(self) -> date:
        return self.hours.day

    @property
    def title(self) -> str:
        return f"{self.crew}, {said_day_of_year(self.day)}"

    @property
    def said(self) -> str:
        now = ""
        if self.now:
            now = gettext("Now it is %(time)s. ") % {"time": f"{self.now.astimezone(self.hours.zone):%H:%M}"}
        return now + " ".join(f"{entry.said(self.day)}." for entry in self.entries)


@dataclass(frozen=True)
class Day:
    hours: Hours
    rows: tuple[Row, ...]
    #: Crews for which nothing is planned.
    free: tuple[str, ...]
    now: datetime | None
    #: The one that a phone shows.
    chosen: bool

    @property
    def day(self) -> date:
        return self.hours.day

    @property
    def now_words(self) -> str:
        """The time, said at the day where no row has its tick."""
        if self.now is None or (self.rows and self.hours.has(self.now)):
            return ""
        return gettext("now %(time)s") % {"time": f"{self.now.astimezone(self.hours.zone):%H:%M}"}


@dataclass(frozen=True)
class Picture:
    days: tuple[Day, ...]
    #: Rows that are only in the list.
    left_out: int


def picture_of(
    tasks: Sequence[Task],
    days: Sequence[date],
    *,
    chosen: date,
    zone: ZoneInfo,
    now: datetime,
    shifts: Mapping[int, Mapping[int, Shifts]],
    closed: Sequence[tuple[date, date]],
    crews: Mapping[int, str],
) -> Picture:
    """``shifts``: by crew and day of the week; ``crews``: names of those in use, said where nothing is planned."""
    now = now.astimezone(UTC)
    worked = [
        Worked(task, tuple(_runs(task, shifts, closed, zone)), zone, now) for task in tasks if task.crew_id is not None
    ]
    names = dict(crews) | {one.task.crew_id: str(one.task.crew) for one in worked}
    order = sorted(names, key=lambda pk: (names[pk], pk))
    here = [run for one in worked for day in days for run in one.on(day)]
    first, last = hours_of(here, zone)
    at: dict[tuple[date, int], list[Worked]] = {}
    for one in worked:
        for day in days:
            if one.on(day):
                at.setdefault((day, one.task.crew_id), []).append(one)
    found, drawn, left_out = [], 0, 0
    for day in days:
        hours, today = Hours(day, first, last, zone), now.astimezone(zone).date() == day
        rows: list[Row] = []
        for pk in order:
            entries = at.get((day, pk), [])
            if not entries:
                continue
            if drawn == MAX_ROWS:
                left_out += 1
                continue
            drawn += 1
            entries.sort(key=lambda one: (one.on(day)[0].starts, one.task.pk))
            rows.append(Row(names[pk], hours, tuple(entries), now if today else None))
        free = tuple(names[pk] for pk in order if pk in crews and (day, pk) not in at)
        found.append(Day(hours, tuple(rows), free, now if today else None, day == chosen))
    return Picture(tuple(found), left_out)


def _runs(
    task: Task, shifts: Mapping[int, Mapping[int, Shifts]], closed: Sequence[tuple[date, date]], zone: ZoneInfo
) -> list[Run]:
    return worked_runs(task.starts_at, task.ends_at, shifts=shifts.get(task.crew_id, {}), closed=closed, zone=zone)
