"""Tasks as they are planned and done."""

from datetime import date, datetime
from enum import StrEnum
from typing import Annotated
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Router, Schema, Status
from pydantic import AwareDatetime

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads, writes
from farmbuild.api.specs import Closed
from farmbuild.api.values import Day, Key, Line, field
from farmbuild.crew.actuals.services import DONE, MAX_DONE, NOTE, START, STOP, record
from farmbuild.crew.models import Task
from farmbuild.crew.models.actuals import MAX_MINUTES
from farmbuild.crew.people.selectors import any_person_of, person_of
from farmbuild.crew.schedule.selectors import between, tasks_of
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import today_of, zone_of

router = Router(tags=["work"])
#: A crew sees its own.
WORK = Bearer(Act.SEE, Act.RECORD)


class TaskOut(Schema):
    id: int
    house: str
    kind: str
    what: str
    state: str = field("open, started or done.")
    count: int = field("Pulls, posts, joints or lengths, as the kind is counted.")
    done: int
    people: int
    planned_minutes: int = field("For all of them together on site.")
    crew: str | None
    bender: str | None
    starts_at: datetime | None = field("As published; none: not planned yet.")
    ends_at: datetime | None
    not_before: date | None


def task_out(row: Task):
    return {
        "id": row.pk,
        "house": row.house.slug,
        "kind": row.kind,
        "what": row.get_kind_display(),
        "state": row.state,
        "count": row.count,
        "done": row.done,
        "people": row.people,
        "planned_minutes": row.planned_minutes,
        "crew": row.crew.slug if row.crew else None,
        "bender": row.bender.slug if row.bender else None,
        "starts_at": row.starts_at,
        "ends_at": row.ends_at,
        "not_before": row.not_before,
    }


def tasks_told(request: HttpRequest) -> QuerySet[Task]:
    """Whoever sees the pages sees all of them, others those of their own crew."""
    rows = tasks_of(organisation=request.organisation)
    if Act.SEE in request.acts:
        return rows
    person = person_of(organisation=request.organisation, user=request.user)
    return rows.filter(crew=person.crew_id) if person and person.crew_id else rows.none()


@reads(router, "/tasks", "tasks", listed(TaskOut), WORK, "Tasks of houses")
def tasks(
    request: HttpRequest,
    asked: Part,
    house: str | None = None,
    crew: str | None = None,
    state: Task.State | None = None,
    day: Day | None = None,
):
    rows = tasks_told(request)
    if house is not None:
        rows = rows.filter(house__slug=house)
    if crew is not None:
        rows = rows.filter(crew__slug=crew)
    if state is not None:
        rows = rows.filter(state=state)
    if day is not None:
        rows = between(rows, day, 1, zone_of(organisation=request.organisation))
    return part(rows, asked, task_out)


@reads(router, "/tasks/{id}", "task", TaskOut, WORK, "One task")
def task(request: HttpRequest, id: Key):
    return task_out(get_object_or_404(tasks_told(request), pk=id))


class Press(StrEnum):
    START, STOP, DONE, NOTE = START, STOP, DONE, NOTE


class PressIn(Closed):
    """One press at a task, as on the day list of a phone."""

    what: Press
    at: AwareDatetime | None = field("When it was pressed, with its time zone; none: now.", None)
    person: Line | None = field("The slug of who was at work; none: whoever the token is of.", None)
    done: Annotated[int, Field(ge=0, le=MAX_DONE)] = field("Units added to those done; with done, 0 is the rest.", 0)
    people: Annotated[int, Field(ge=1, le=50)] = 1
    minutes: Annotated[int, Field(ge=1, le=MAX_MINUTES)] | None = field("How long it took, where nobody started.", None)
    day: Day | None = field("The day of those minutes; none: today.", None)
    problem: Line = field("What went wrong.", "")


@writes(router, "/tasks/{id}/presses", "task-press", TaskOut, Bearer(Act.RECORD), "Start, stop or finish a task")
def press(request: HttpRequest, id: Key, sent: PressIn):
    organisation = request.organisation
    task = get_object_or_404(tasks_told(request), pk=id)
    person = person_of(organisation=organisation, user=request.user)
    if sent.person is not None:
        person = any_person_of(organisation=organisation).filter(slug=sent.person).first()
        if person is None:
            raise ValidationError({"person": f"There is no person {sent.person}."})
    if sent.day and sent.day > today_of(organisation=organisation):
        raise ValidationError({"day": "That day is not over yet."})
    record(
        organisation=organisation,
        user=request.user,
        key=uuid4(),
        task=task,
        person=person,
        what=sent.what.value,
        at=sent.at or timezone.now(),
        done=sent.done,
        people=sent.people,
        minutes=sent.minutes,
        day=sent.day,
        problem=sent.problem,
    )
    return Status(201, task_out(tasks_told(request).get(pk=task.pk)))
