"""Runs of a week that is known, in the hours of a crew that works Monday to Friday, 07:00 to 16:00."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

from farmbuild.crew.actuals.hours import place
from farmbuild.crew.models import Actual, HourApproval, Task

#: A Monday.
MONDAY = datetime(2026, 11, 2, tzinfo=UTC)


def at(clock: str, day: int = 0) -> datetime:
    hours, minutes = clock.split(":")
    return MONDAY + timedelta(days=day, hours=int(hours), minutes=int(minutes))


def a_run(task: Task, person=None, *, begins="10:00", ends="12:00", day=0, to=0, people=1, done=0, user=None) -> Actual:
    """As it was pressed on the day after Monday, ending ``to`` days later."""
    row = Actual(
        organisation=task.organisation,
        task=task,
        key=uuid4(),
        person=person,
        by=user,
        started_at=at(begins, day),
        stopped_at=at(ends, day + to),
        people=people,
        done=done,
    )
    place(row, at=row.stopped_at)
    row.save()
    return row


def approved(run: Actual) -> Actual:
    HourApproval.objects.create(organisation=run.organisation, actual=run)
    return run
