"""The list of a day, its presses, and the worker that keeps it readable without reception."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4
from zoneinfo import ZoneInfo

import django_tables2 as tables
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django_tables2 import RequestConfig

from farmbuild.crew import feeds
from farmbuild.crew.bridge import CAUTIONS, UNITS, WorkKind
from farmbuild.crew.daylist import selectors, services
from farmbuild.crew.daylist.forms import TickForm
from farmbuild.crew.models import Person, Task
from farmbuild.crew.people.selectors import any_person_of, people_of, zone_of
from farmbuild.crew.people.tables import PersonTable
from farmbuild.crew.schedule.selectors import tasks_of

WORKER = Path(__file__).with_name("worker.js")
ROWS = 25


class WhoTable(PersonTable):
    row_link = lambda record: f"{reverse('crew:day')}?person={record.slug}"  # noqa: E731
    skills = tables.Column(visible=False)


@require_GET
def show(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    if slug := request.GET.get("person"):
        person = get_object_or_404(people_of(organisation=organisation), slug=slug)
    else:
        person = selectors.person_of(organisation=organisation, user=request.user)
    if person is None or "who" in request.GET:
        table = WhoTable(people_of(organisation=organisation), organisation=organisation)
        RequestConfig(request, paginate={"per_page": ROWS}).configure(table)
        return render(request, "crew/daylist/who.html", {"table": table})
    zone = zone_of(organisation=organisation)
    day = _day(request, zone)
    rows = [_row(task, day, zone) for task in selectors.day_of(organisation=organisation, person=person, day=day)]
    context = {
        "person": person,
        "day": day,
        "zone": zone,
        "rows": rows,
        "wind": selectors.wind_of(organisation=organisation, day=day, tasks=[row["task"] for row in rows]),
        "left": sum(row["task"].state != Task.State.DONE for row in rows),
        "crew": selectors.crew_names(organisation=organisation, person=person),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
    }
    return render(request, "crew/daylist/day.html", context)


def _day(request: HttpRequest, zone: ZoneInfo) -> date:
    try:
        found = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return timezone.now().astimezone(zone).date()
    return found if 2000 <= found.year <= 2100 else timezone.now().astimezone(zone).date()


def _row(task: Task, day: date, zone: ZoneInfo) -> dict[str, Any]:
    starts, ends = task.starts_at.astimezone(zone), task.ends_at.astimezone(zone)
    kind = WorkKind(task.kind)
    last = next(reversed(task.actuals.all()), None)
    return {
        "task": task,
        "starts": starts if starts.date() == day else None,
        "ends": ends if ends.date() == day else None,
        "unit": UNITS[kind],
        "cautions": CAUTIONS[kind],
        "running": last if last and last.stopped_at is None and task.state != Task.State.DONE else None,
        "rest": max(0, task.count - task.done),
        "key": uuid4(),
    }


@require_POST
def tick(request: HttpRequest, pk: int) -> HttpResponse:
    """One press. A browser that sends it in the background gets JSON; the key makes sending it again harmless."""
    organisation = request.organisation
    task = get_object_or_404(tasks_of(organisation=organisation), pk=pk)
    form = TickForm(request.POST)
    problem, person = "", None
    if form.is_valid():
        data = form.cleaned_data
        if data["person"]:
            person = get_object_or_404(any_person_of(organisation=organisation), slug=data["person"])
        try:
            services.record(
                organisation=organisation,
                user=request.user,
                task=task,
                person=person,
                key=data["key"],
                what=data["what"],
                at=data["at"] or timezone.now(),
                done=data["done"],
                people=data["people"],
                problem=data["problem"],
            )
        except ValidationError as error:
            problem = " ".join(error.messages)
    else:
        problem = form.words()
    if not request.accepts("text/html"):
        said = {"key": request.POST.get("key", ""), "kept": not problem}
        return JsonResponse(said | ({"problem": problem} if problem else {}), status=422 if problem else 200)
    if problem:
        messages.error(request, problem)
    back = {"person": person.slug} if person else {}
    if _is_day(request.POST.get("day", "")):
        back["day"] = request.POST["day"]
    return redirect(f"{reverse('crew:day')}?{urlencode(back)}")


def _is_day(text: str) -> bool:
    try:
        datetime.strptime(text, "%Y-%m-%d")  # noqa: DTZ007
    except ValueError:
        return False
    return True


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The script that answers for the list of a day when there is no reception; its reach is /crew/day/ alone."""
    answer = HttpResponse(WORKER.read_text(encoding="utf-8"), content_type="text/javascript; charset=utf-8")
    answer.headers["Cache-Control"] = "no-cache"
    answer.headers["Service-Worker-Allowed"] = "/crew/day/"
    return answer


def _person(request: HttpRequest, slug: str) -> Person:
    return get_object_or_404(people_of(organisation=request.organisation), slug=slug)


@require_GET
def feed(request: HttpRequest, slug: str) -> HttpResponse:
    person = _person(request, slug)
    found = feeds.open_feed(organisation=request.organisation, person=person)
    address = request.build_absolute_uri(found.get_absolute_url()) if found else ""
    return render(request, "crew/daylist/feed.html", {"person": person, "address": address})


@require_POST
def make_feed(request: HttpRequest, slug: str) -> HttpResponse:
    feeds.make_feed(organisation=request.organisation, user=request.user, person=_person(request, slug))
    return redirect("crew:person-feed", slug)


@require_POST
def revoke_feed(request: HttpRequest, slug: str) -> HttpResponse:
    found = feeds.open_feed(organisation=request.organisation, person=_person(request, slug))
    if found:
        feeds.revoke_feed(organisation=request.organisation, user=request.user, feed=found)
    return redirect("crew:person-feed", slug)
