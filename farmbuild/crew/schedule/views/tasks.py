"""The page of one task: kept on its day, or slipping."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, save_form
from farmbuild.crew.actuals.presenters import task_presses
from farmbuild.crew.actuals.words import said_unit
from farmbuild.crew.gate.selectors import closed_gates
from farmbuild.crew.models import Task
from farmbuild.crew.problems.selectors import recorded_at
from farmbuild.crew.schedule import delays, lengths, selectors, services
from farmbuild.crew.schedule.forms import LengthForm, NotBeforeForm, UntilForm
from farmbuild.crew.schedule.presenters import length_shown, takes_words
from farmbuild.crew.steps.facts import facts_of
from farmbuild.crew.wind.selectors import notes_of
from farmbuild.measure import format_minutes
from farmbuild.orgs.acts import Act, may
from farmbuild.orgs.clock import zone_of


def _task(request: HttpRequest, pk: int) -> Task:
    return get_object_or_404(selectors.tasks_of(organisation=request.organisation), pk=pk)


@require_GET
def task(request: HttpRequest, pk: int) -> HttpResponse:
    found = _task(request, pk)
    rows = list(recorded_at(task=found))
    context = {
        "task": found,
        "takes": takes_words(found),
        "may_plan": may(organisation=request.organisation, user=request.user, act=Act.PLAN),
        "zone": zone_of(organisation=request.organisation),
        "unit": said_unit(found),
        "facts": facts_of(organisation=request.organisation, tasks=[found]).get(found.pk),
        "gate": closed_gates(organisation=request.organisation, tasks=[found]).get(found.pk),
        "wind": notes_of(organisation=request.organisation, tasks=[found]).get(found.pk, []),
        "actuals": [row for row in rows if row.reverses_id is None][:ROWS],
        "row": task_presses(found, rows[::-1], organisation=request.organisation, user=request.user),
    }
    return render(request, "crew/schedule/task.html", context)


@require_POST
def fix(request: HttpRequest, pk: int) -> HttpResponse:
    found = _task(request, pk)
    try:
        services.set_fixed(**actor_kwargs(request), task=found, fixed=request.POST.get("fixed") == "1")
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
        says = gettext("{} takes longer. Work out the schedule again to see what moves.")
    else:
        first = {"day": found.not_before}
        # An empty box is an answer too: any day.
        sent = request.POST if request.method == "POST" else None
        form = NotBeforeForm(sent, organisation=request.organisation, initial=first)
        says = gettext("The day of {} is kept. Work out the schedule again to see what moves.")
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


@require_http_methods(["GET", "POST"])
def length(request: HttpRequest, pk: int) -> HttpResponse:
    """A length of its own, or by the rate again. Then the board says what that moves."""
    found = _task(request, pk)
    # An empty box is an answer too: by the rate.
    sent = request.POST if request.method == "POST" else None
    form = LengthForm(sent, organisation=request.organisation, initial=length_shown(found))
    answer = save_form(
        request,
        form,
        lambda data: lengths.set_own_length(
            **actor_kwargs(request), task=found, minutes=data["length"], seen=data["seen"]
        ),
        message=gettext("The length of {} is kept. Work out the schedule again to see what moves."),
        redirect_to=reverse("crew:task", args=[pk]),
    )
    if answer is None and form.is_bound:
        found.refresh_from_db(fields=["own_minutes", "state", "fixed"])
        form.data = form.data.copy()
        form.data["seen"] = str(found.own_minutes or "")
    context = {"task": found, "form": form, "by_rate": format_minutes(found.minutes), "takes": takes_words(found)}
    context["may_plan"] = may(organisation=request.organisation, user=request.user, act=Act.PLAN)
    return answer or render(request, "crew/schedule/length.html", context)
