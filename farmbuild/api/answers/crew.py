"""Tasks as they are planned and done."""

from datetime import date, datetime

from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Part, listed, part
from farmbuild.api.opening import reads
from farmbuild.api.values import Day, Key, field
from farmbuild.crew.models import Task
from farmbuild.crew.people.selectors import person_of
from farmbuild.crew.schedule.selectors import between, tasks_of
from farmbuild.orgs.acts import Act
from farmbuild.orgs.clock import zone_of

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
