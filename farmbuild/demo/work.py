"""What has to be done for the invented houses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from typing import Any
from uuid import uuid4

from farmbuild.crew.actuals.services import DONE, START, STOP, record
from farmbuild.crew.hours.selectors import runs_of
from farmbuild.crew.hours.services import approve
from farmbuild.crew.models import Kind, Task
from farmbuild.crew.people.selectors import people_of
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.crew.steps.services import plan_house, standard_template
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House

#: From the day on which the materials are needed to the day on which the house should stand.
BUILDING = timedelta(weeks=3)
#: Invented: minutes of one person, and the share of the sticks marked in them.
MARKING = ((41, 0.4), (28, 0.35), (33, 0.25))


def enter_work(organisation: Organisation, user: User, houses: Iterable[House]) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    template = standard_template(**given)
    for house in houses:
        plan_house(**given, house=house, template=template, due=house.need_date + BUILDING)
    proven = {"house__tasks__kind": Kind.TRIAL, "house__tasks__state": Task.State.DONE}
    for task in tasks_of(organisation=organisation).filter(kind=Kind.MARK, **proven):
        _marked(organisation, user, task)


def _marked(organisation: Organisation, user: User, task: Task) -> None:
    """Sticks of a house whose hoops are proven were marked in three goes; the hours are approved."""
    given: dict[str, Any] = {"organisation": organisation, "user": user, "task": task}
    given["person"] = people_of(organisation=organisation).order_by("name").first()
    begin = _workday(organisation)
    for n, (minutes, share) in enumerate(MARKING):
        at, last = begin + timedelta(hours=n), n == len(MARKING) - 1
        record(**given, key=uuid4(), what=START, at=at)
        rest = {"what": DONE} if last else {"what": STOP, "done": int(task.count * share)}
        record(**given, key=uuid4(), at=at + timedelta(minutes=minutes), **rest)
    runs = runs_of(organisation=organisation).filter(task=task, late=False)
    approve(organisation=organisation, user=user, runs=[(run.pk, run.latest) for run in runs])


def _workday(organisation: Organisation) -> datetime:
    """Eight in the morning of the last Wednesday that is over."""
    today = today_of(organisation=organisation)
    day = today - timedelta(days=(today.weekday() - 3) % 7 + 1)
    return datetime.combine(day, time(8), zone_of(organisation=organisation))
