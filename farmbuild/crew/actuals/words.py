"""Presses in words, in the language of the page. Times are those of the time zone in force."""

from __future__ import annotations

from django.utils.timezone import localtime
from django.utils.translation import gettext, pgettext

from farmbuild.common.speaking import said, said_list, said_short_day
from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Actual, Task
from farmbuild.measure import format_count, format_minutes
from farmbuild.orgs.clock import today


def said_unit(task: Task) -> tuple[str, str]:
    """What a task is counted in: one, and many."""
    one, many = task_unit(task)
    return said(one), said(many)


def press_words(actual: Actual) -> str:
    """What was pressed and when, such as Stop at 10:40, 12 posts."""
    at = {"time": f"{localtime(actual.when):%H:%M}"}
    if actual.finished:
        words = gettext("Done at %(time)s") % at
    elif actual.stopped_at:
        words = gettext("Stop at %(time)s") % at
    elif actual.started_at:
        words = gettext("Start at %(time)s") % at
    else:
        words = gettext("Problem at %(time)s") % at
    if actual.done:
        words += f", {format_count(actual.done)} {said_unit(actual.task)[actual.done != 1]}"
    if actual.minutes:
        words += ", " + gettext("%(time)s typed") % {"time": format_minutes(actual.minutes)}
    return words


def running_words(rows: list[Actual]) -> str:
    """Who is at it, such as Ann since 10:00 and Ben since 10:20; with the day where it is not today."""
    return said_list(
        pgettext("at work", "%(person)s since %(time)s")
        % {"person": row.person or gettext("someone"), "time": _since(row)}
        for row in rows
    )


def _since(row: Actual) -> str:
    begun = localtime(row.started_at)
    if begun.date() == today():
        return f"{begun:%H:%M}"
    return gettext("%(time)s on %(day)s") % {"time": f"{begun:%H:%M}", "day": said_short_day(begun.date())}
