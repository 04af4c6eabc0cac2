"""The week, and schedules from asking to publishing."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_POST

from farmbuild.common.once import own_transactions
from farmbuild.common.pages import ROWS, actor_kwargs, parse_day
from farmbuild.common.paging import PagedTables
from farmbuild.common.speaking import said_count
from farmbuild.crew.models import Schedule
from farmbuild.crew.people.selectors import people_by_crew
from farmbuild.crew.schedule import presenters, selectors, services
from farmbuild.crew.schedule.tables import ScheduleTable
from farmbuild.crew.schedule.tasks import start_once_stored, start_schedule
from farmbuild.orgs.answers.kept import Answers


@require_GET
def board(request: HttpRequest) -> HttpResponse:
    context = presenters.board_page(request, parse_day(request.GET.get("week", "")))
    return render(request, "crew/schedule/board.html", context)


@require_GET
def week(request: HttpRequest, day: str) -> HttpResponse:
    """The week of any of its days, for paper."""
    try:
        with Answers(request, dear=True) as answers:
            context = presenters.week_page(answers, date.fromisoformat(day))
    except (ValueError, OverflowError) as error:
        raise Http404 from error
    people = people_by_crew(organisation=request.organisation)
    return render(request, "crew/schedule/week.html", context | {"people": people})


class ScheduleList(PagedTables):
    table_class = ScheduleTable
    template_name = "crew/schedule/list.html"
    rows_a_page = ROWS

    def get_queryset(self) -> QuerySet[Schedule]:
        return selectors.schedules_of(organisation=self.request.organisation).defer("inputs", "seen", "result")


def _schedule(request: HttpRequest, number: int) -> Schedule:
    return get_object_or_404(
        selectors.schedules_of(organisation=request.organisation).defer("inputs", "seen", "result"), number=number
    )


@require_POST
def create(request: HttpRequest) -> HttpResponse:
    try:
        schedule = services.create_schedule(organisation=request.organisation, user=request.user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("crew:board")
    start_once_stored(schedule=schedule)
    return redirect("crew:schedule", number=schedule.number)


@require_GET
def show(request: HttpRequest, number: int) -> HttpResponse:
    schedule = _schedule(request, number)
    if schedule.state == Schedule.State.FAILED:
        return render(request, "crew/schedule/stopped.html", {"schedule": schedule})
    if schedule.state != Schedule.State.READY:
        # The page starts what nobody works on; a second start finds the work taken and does nothing.
        context = {"schedule": schedule, "open": schedule.is_open_to_work}
        return render(request, "crew/schedule/working.html", context)
    context = {"schedule": schedule} | presenters.schedule_page(request, schedule)
    return render(request, "crew/schedule/schedule.html", context)


@require_GET
def progress(request: HttpRequest, number: int) -> JsonResponse:
    return JsonResponse(_schedule(request, number).progress)


@require_POST
@own_transactions
def run(request: HttpRequest, number: int) -> HttpResponse:
    """Start the work; the page asks how far it is."""
    start_schedule(schedule=_schedule(request, number))
    if not request.accepts("text/html"):
        return JsonResponse(_schedule(request, number).progress)
    return redirect("crew:schedule", number=number)


@require_POST
def end(request: HttpRequest, number: int) -> HttpResponse:
    services.end_schedule_early(**actor_kwargs(request), schedule=_schedule(request, number))
    return redirect("crew:schedule", number=number)


@require_POST
def retry(request: HttpRequest, number: int) -> HttpResponse:
    schedule = _schedule(request, number)
    services.try_schedule_again(**actor_kwargs(request), schedule=schedule)
    start_once_stored(schedule=schedule)
    return redirect("crew:schedule", number=number)


@require_POST
def publish(request: HttpRequest, number: int) -> HttpResponse:
    schedule = _schedule(request, number)
    try:
        changed = services.publish_schedule(**actor_kwargs(request), schedule=schedule)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("crew:schedule", number=number)
    messages.success(
        request,
        gettext("Schedule %(number)s is published; changed: %(tasks)s.")
        % {"number": number, "tasks": said_count(changed, "task")},
    )
    return redirect("crew:board")
