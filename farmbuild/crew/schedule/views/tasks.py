"""The page of one task: kept on its day, or slipping."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from farmbuild.common.pages import ROWS, save_form
from farmbuild.crew.bridge import CAUTIONS, UNITS, WorkKind
from farmbuild.crew.gate.selectors import closed_gates
from farmbuild.crew.models import Task
from farmbuild.crew.problems.selectors import recorded_at
from farmbuild.crew.schedule import delays, selectors, services
from farmbuild.crew.schedule.forms import NotBeforeForm, UntilForm
from farmbuild.crew.wind.selectors import notes_of
from farmbuild.orgs.clock import zone_of


def _task(request: HttpRequest, pk: int) -> Task:
    return get_object_or_404(selectors.tasks_of(organisation=request.organisation), pk=pk)


@require_GET
def task(request: HttpRequest, pk: int) -> HttpResponse:
    found = _task(request, pk)
    context = {
        "task": found,
        "zone": zone_of(organisation=request.organisation),
        "unit": UNITS[WorkKind(found.kind)],
        "cautions": CAUTIONS[WorkKind(found.kind)],
        "gate": closed_gates(organisation=request.organisation, tasks=[found]).get(found.pk),
        "wind": notes_of(organisation=request.organisation, tasks=[found]).get(found.pk, []),
        "actuals": recorded_at(task=found)[:ROWS],
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


def slip(request: HttpRequest, pk: int) -> HttpResponse:
    """Work that has not begun starts later; work that has begun takes longer. Then the board says what that moves."""
    found = _task(request, pk)
    given = {"organisation": request.organisation, "user": request.user, "task": found}
    begun = found.state == Task.State.STARTED
    zone = zone_of(organisation=request.organisation)
    if begun:
        ends = found.ends_at and found.ends_at.astimezone(zone)
        first = {"day": ends and ends.date(), "clock": ends and ends.time()}
        form = UntilForm(request.POST or None, organisation=request.organisation, initial=first)
        says = "{} takes longer. Work out the schedule again to see what moves."
    else:
        first = {"day": found.not_before}
        # An empty box is an answer too: any day.
        sent = request.POST if request.method == "POST" else None
        form = NotBeforeForm(sent, organisation=request.organisation, initial=first)
        says = "The day of {} is kept. Work out the schedule again to see what moves."
    answer = save_form(
        request,
        form,
        lambda data: (
            delays.set_end(**given, ends_at=data["ends_at"])
            if begun
            else delays.set_not_before(**given, day=data["day"])
        ),
        message=says,
        redirect_to=reverse("crew:board"),
    )
    context = {"task": found, "form": form, "begun": begun, "zone": zone}
    return answer or render(request, "crew/schedule/slip.html", context)
