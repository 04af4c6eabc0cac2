"""The week, schedules from asking to publishing, and one task."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django_tables2 import RequestConfig, SingleTableView

from farmbuild.crew.bridge import CAUTIONS, UNITS, WorkKind
from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.people.selectors import people_of, weeks_of, zone_of
from farmbuild.crew.problems.selectors import with_photos
from farmbuild.crew.schedule import board as boards
from farmbuild.crew.schedule import selectors, services
from farmbuild.crew.schedule.standing import Standing, standing_of
from farmbuild.crew.schedule.tables import DayTable, HouseProgressTable, ScheduleTable
from farmbuild.crew.schedule.tasks import start_schedule
from farmbuild.crew.wind.selectors import notes_of, wind_lines
from farmbuild.orgs.models import Organisation

ROWS = 25


@require_GET
def board(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    tasks = selectors.tasks_of(organisation=organisation)
    published = selectors.schedules_of(organisation=organisation).filter(published_at__isnull=False)
    latest = published.defer("inputs").first()
    houses = HouseProgressTable(selectors.progress_of(organisation=organisation), organisation=organisation)
    RequestConfig(request, paginate={"per_page": ROWS}).configure(houses)
    context = _week_context(request, _asked_day(request) or _first_day(request, tasks))
    context |= {
        "latest": latest,
        **_since(organisation, standing_of(organisation=organisation, schedule=latest) if latest else Standing()),
        "ends": latest and datetime.fromisoformat(latest.result["ends_at"]).astimezone(context["zone"]).date(),
        "houses": houses,
        "open_count": tasks.exclude(state=Task.State.DONE).count(),
        "unplaced": tasks.filter(starts_at=None).exclude(state=Task.State.DONE).count(),
    }
    return render(request, "crew/schedule/board.html", context)


def _since(organisation: Organisation, standing: Standing) -> dict[str, Any]:
    """What changed, and each task that no longer fits with why."""
    found = standing.misfits or {}
    tasks = selectors.named_tasks(organisation=organisation, keys=found)
    return {"standing": standing, "misfits": [(task, found[pk]) for pk, task in tasks.items()]}


@require_GET
def week(request: HttpRequest, day: str) -> HttpResponse:
    """The week of any of its days, for paper."""
    try:
        context = _week_context(request, date.fromisoformat(day))
    except (ValueError, OverflowError) as error:
        raise Http404 from error
    people = people_of(organisation=request.organisation).filter(crew__isnull=False).order_by("crew__name", "name")
    return render(request, "crew/schedule/week.html", context | {"people": people})


def _asked_day(request: HttpRequest) -> date | None:
    try:
        found = date.fromisoformat(request.GET.get("week", ""))
    except ValueError:
        return None
    return found if 2000 <= found.year <= 2100 else None


def _first_day(request: HttpRequest, tasks: QuerySet[Task]) -> date:
    """Today; where nothing is to do this week, the day of the next task."""
    zone = zone_of(organisation=request.organisation)
    today = timezone.now().astimezone(zone).date()
    start = selectors.midnight(boards.monday_of(today), zone)
    coming = tasks.filter(ends_at__gt=start).values_list("starts_at", flat=True).first()
    return max(today, coming.astimezone(zone).date()) if coming else today


def _week_context(request: HttpRequest, day: date) -> dict[str, Any]:
    organisation = request.organisation
    zone = zone_of(organisation=organisation)
    first = boards.monday_of(day)
    every = selectors.between(selectors.tasks_of(organisation=organisation), first, 7, zone)
    rows = list(every[: boards.MOST_ROWS])
    left_out = every.count() - len(rows)
    spans, days = _hours(organisation)
    found = boards.clipped(boards.week_of(rows, first, zone, days, left_out=left_out), spans)
    wind = wind_lines(organisation=organisation, first=first, last=found.last)
    return {
        "week": found,
        "zone": zone,
        "drawing": boards.drawing_of(found) if found.lines else "",
        "days": [(at, DayTable(lines, organisation=organisation), lines, wind.get(at, ())) for at, lines in found.days],
        "wind_over": [day for day, lines in sorted(wind.items()) if any(line.over for line in lines)],
        "before": first - boards.timedelta(days=7),
        "after": first + boards.timedelta(days=7),
    }


def _hours(organisation: Any) -> tuple[dict, dict]:
    """First and last hour of each crew's days, and its days."""
    spans: dict = {}
    days: dict = {}
    for usual in weeks_of(organisation=organisation).prefetch_related("crews"):
        for crew in usual.crews.all():
            days[crew.pk] = set()
            for row in usual.hours.all():
                known = spans.get((crew.pk, row.day))
                spans[crew.pk, row.day] = (known[0] if known else row.starts, row.ends)
                days[crew.pk].add(row.day)
    return spans, days


class ScheduleList(SingleTableView):
    table_class = ScheduleTable
    template_name = "crew/schedule/list.html"
    table_pagination = {"per_page": ROWS}

    def get_queryset(self) -> QuerySet[Schedule]:
        return selectors.schedules_of(organisation=self.request.organisation).defer("inputs", "result")


def _schedule(request: HttpRequest, number: int) -> Schedule:
    return get_object_or_404(selectors.schedules_of(organisation=request.organisation).defer("inputs"), number=number)


@require_POST
def create(request: HttpRequest) -> HttpResponse:
    try:
        schedule = services.create_schedule(organisation=request.organisation, user=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("crew:board")
    return redirect("crew:schedule", number=schedule.number)


@require_GET
def show(request: HttpRequest, number: int) -> HttpResponse:
    schedule = _schedule(request, number)
    if schedule.state == Schedule.State.FAILED:
        return render(request, "crew/schedule/stopped.html", {"schedule": schedule})
    if schedule.state != Schedule.State.READY:
        # The page starts what nobody works on; a second start finds the work taken and does nothing.
        context = {"schedule": schedule, "open": selectors.is_open(schedule=schedule)}
        return render(request, "crew/schedule/working.html", context)
    return render(request, "crew/schedule/schedule.html", _ready(request, schedule))


def _ready(request: HttpRequest, schedule: Schedule) -> dict[str, Any]:
    organisation, result = request.organisation, schedule.result
    zone = zone_of(organisation=organisation)
    tasks = selectors.named_tasks(
        organisation=organisation, keys=[*result["moved"], *(key for key, _ in result["unplaced"])]
    )
    houses = dict(selectors.progress_of(organisation=organisation).order_by().values_list("pk", "name"))
    places = {place["task"]: place for place in result["placed"]}
    other = None if schedule.published_at else selectors.published_since(schedule=schedule)
    past = schedule.published_at or other
    standing = Standing() if past else standing_of(organisation=organisation, schedule=schedule)
    return {
        **_since(organisation, standing),
        "other": other,
        "schedule": schedule,
        "result": result,
        "placed": len(places),
        "ends": datetime.fromisoformat(result["ends_at"]).astimezone(zone),
        "gap_hours": (result["makespan"] - result["bound"]) / 4,
        "late": [(houses.get(row["house"], "A house since archived"), row["days"]) for row in result["late"]],
        "unplaced": [(tasks.get(key), why) for key, why in result["unplaced"]],
        "moved": [
            (tasks[key], datetime.fromisoformat(places[key]["starts_at"]).astimezone(zone))
            for key in result["moved"]
            if key in tasks
        ],
    }


def _progress(schedule: Schedule) -> JsonResponse:
    return JsonResponse(
        {
            "state": schedule.state,
            "done": schedule.steps_done,
            "total": schedule.steps,
            "note": schedule.step_note,
        }
    )


@require_GET
def progress(request: HttpRequest, number: int) -> JsonResponse:
    return _progress(_schedule(request, number))


@require_POST
def run(request: HttpRequest, number: int) -> HttpResponse:
    """Start the work. In this process the answer comes when it is done, from a worker at once."""
    start_schedule(schedule=_schedule(request, number))
    if not request.accepts("text/html"):
        return _progress(_schedule(request, number))
    return redirect("crew:schedule", number=number)


@require_POST
def retry(request: HttpRequest, number: int) -> HttpResponse:
    services.retry_schedule(schedule=_schedule(request, number))
    return redirect("crew:schedule", number=number)


@require_POST
def publish(request: HttpRequest, number: int) -> HttpResponse:
    schedule = _schedule(request, number)
    try:
        changed = services.publish_schedule(organisation=request.organisation, schedule=schedule)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("crew:schedule", number=number)
    messages.success(request, f"Schedule {number} is published; {changed} task{'' if changed == 1 else 's'} changed.")
    return redirect("crew:board")


def _task(request: HttpRequest, pk: int) -> Task:
    return get_object_or_404(selectors.tasks_of(organisation=request.organisation), pk=pk)


@require_GET
def task(request: HttpRequest, pk: int) -> HttpResponse:
    found = _task(request, pk)
    recorded = found.actuals.select_related("person", "settled").prefetch_related(with_photos())
    context = {
        "task": found,
        "zone": zone_of(organisation=request.organisation),
        "unit": UNITS[WorkKind(found.kind)],
        "cautions": CAUTIONS[WorkKind(found.kind)],
        "wind": notes_of(organisation=request.organisation, tasks=[found]).get(found.pk, []),
        "actuals": recorded.order_by("-pk")[:ROWS],
    }
    return render(request, "crew/schedule/task.html", context)


@require_POST
def fix(request: HttpRequest, pk: int) -> HttpResponse:
    found = _task(request, pk)
    try:
        services.set_fixed(organisation=request.organisation, task=found, fixed=request.POST.get("fixed") == "1")
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("crew:task", pk=pk)
