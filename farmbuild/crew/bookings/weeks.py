"""The four weeks that a calendar of benders shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

#: Four weeks.
DAYS = 28


@dataclass(frozen=True)
class Weeks:
    """From ``start``; ``this_week``: the Monday of today's week."""

    this_week: date
    start: date

    @property
    def end(self) -> date:
        return self.start + timedelta(days=DAYS - 1)

    @property
    def before(self) -> date:
        return self.start - timedelta(days=DAYS)

    @property
    def after(self) -> date:
        return self.start + timedelta(days=DAYS)

    def has(self, day: date) -> bool:
        return self.start <= day <= self.end


def weeks_from(asked: date | None, *, today: date) -> Weeks:
    """From the day asked for, else from this week."""
    this_week = today - timedelta(days=today.weekday())
    return Weeks(this_week, asked or this_week)


def coming_weeks_from(asked: date | None, *, today: date) -> Weeks:
    """Never from before this week."""
    weeks = weeks_from(asked, today=today)
    return weeks if weeks.start >= weeks.this_week else Weeks(weeks.this_week, weeks.this_week)
