"""Presses in words. Times are those of the time zone in force."""

from __future__ import annotations

from django.utils.timezone import localtime

from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Actual
from farmbuild.measure import count_noun, format_minutes
from farmbuild.orgs.clock import today


def press_words(actual: Actual) -> str:
    """What was pressed and when, such as Stop at 10:40, 12 posts."""
    what = "Done" if actual.finished else "Stop" if actual.stopped_at else "Start" if actual.started_at else "Problem"
    words = f"{what} at {localtime(actual.when):%H:%M}"
    if actual.done:
        words += f", {count_noun(actual.done, *task_unit(actual.task))}"
    if actual.minutes:
        words += f", {format_minutes(actual.minutes)} typed"
    return words


def running_words(rows: list[Actual]) -> str:
    """Who is at it, such as Ann since 10:00 and Ben since 10:20; with the day where it is not today."""
    return " and ".join(f"{row.person or 'someone'} since {_since(row)}" for row in rows)


def _since(row: Actual) -> str:
    begun = localtime(row.started_at)
    return f"{begun:%H:%M}" + ("" if begun.date() == today() else f" on {begun:%a} {begun.day} {begun:%b}")
