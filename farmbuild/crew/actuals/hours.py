"""Where a press stands in the hours of a crew."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from farmbuild.crew.models import Actual, Crew
from farmbuild.orgs.clock import zone_of


@dataclass(frozen=True)
class CrewDay:
    """The hours of a crew on ``day``; ``spans`` rise, and are empty where nobody works then. None: not known."""

    day: date
    zone: ZoneInfo
    spans: tuple[tuple[time, time], ...] | None

    @property
    def end(self) -> datetime:
        """When the work of the day is over: with the last of its hours; where none are known, with the day."""
        if self.spans is None:
            return datetime.combine(self.day + timedelta(days=1), time(), self.zone)
        return datetime.combine(self.day, max((ends for _, ends in self.spans), default=time()), self.zone)

    @property
    def minutes(self) -> int:
        """That can be worked between its first hour and its last."""
        if self.spans is None:
            return 24 * 60
        clock = [(of.hour * 60 + of.minute) for span in self.spans for of in span]
        return max(clock) - min(clock) if clock else 0


def crew_day(*, crew: Crew | None, day: date, zone: ZoneInfo) -> CrewDay:
    if crew is None:
        return CrewDay(day, zone, None)
    rows = (row for row in crew.week.hours.all() if row.day == day.weekday())
    return CrewDay(day, zone, tuple(sorted((row.starts, row.ends) for row in rows)))


def place(actual: Actual, *, at: datetime, day: date | None = None) -> None:
    """Give ``actual`` (not stored yet, its times set) its crew, its day and whether it goes past the crew's day.

    ``at``: when it was pressed; ``day``: of hours that were typed.
    """
    zone = zone_of(organisation=actual.organisation)
    actual.crew = (actual.person and actual.person.crew) or actual.task.crew
    begun = actual.started_at or at
    actual.day = (day if actual.minutes else None) or begun.astimezone(zone).date()
    hours = crew_day(crew=actual.crew, day=actual.day, zone=zone)
    if actual.minutes:
        actual.late = actual.minutes > hours.minutes
    elif actual.started_at and actual.stopped_at:
        actual.late = actual.stopped_at > hours.end
