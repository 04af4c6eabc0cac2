"""Paid time: the list with what waits, typed time, who was at approved hours, and one row."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.costs.forms import PeopleForm, TakeBackForm, TimeForm
from farmbuild.costs.lists import paid_time_of
from farmbuild.costs.presenters import next_to_name, row_page, time_facts, time_page
from farmbuild.costs.tables import PaidTimeTable, WaitingTable
from farmbuild.costs.time import services
from farmbuild.costs.time.approved import approved_hours, not_in_money_of
from farmbuild.costs.time.posting import told
from farmbuild.crew.hours.forms import minutes_of
from farmbuild.measure import format_minutes


@require_GET
def rows(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    page = time_page(organisation=organisation)
    waits = paged(request, WaitingTable(page["waiting"], organisation=organisation, prefix="w-"), rows=ROWS)
    table = paged(request, PaidTimeTable(paid_time_of(organisation=organisation), organisation=organisation), rows=ROWS)
    context = page | {"table": table, "count": table.paginator.count, "waits": waits}
    return render(request, "costs/time.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = TimeForm(request.POST or None, organisation=request.organisation, asked=request.GET)

    def save(data: dict) -> str:
        hours = data.pop("hours")
        made = services.type_time(**actor_kwargs(request), minutes=minutes_of(hours) if hours else None, **data)
        return told(made[0])

    answer = save_form(request, form, save, message=gettext("Recorded: {}."), redirect_to="costs:time")
    context = {
        "form": form,
        "title": gettext("Record time"),
        "answer": gettext("Time that nobody pressed at a task."),
        "back": "time",
    }
    return answer or render(request, "costs/form.html", context)


@require_POST
def put(request: HttpRequest) -> HttpResponse:
    """All approved hours that can be in money by now."""
    return run_action(
        request,
        lambda: services.put_waiting(**actor_kwargs(request)),
        message=gettext("The approved hours that had a pay rate are in money."),
        redirect_to="costs:time",
    )


@require_http_methods(["GET", "POST"])
def people(request: HttpRequest, pk: int) -> HttpResponse:
    """Who was at approved hours that wait."""
    organisation = request.organisation
    approval = get_object_or_404(not_in_money_of(organisation=organisation), pk=pk)
    [hours] = approved_hours(organisation=organisation, approvals=[approval])
    first = {"people": [person.pk for person in hours.guess]}
    form = PeopleForm(request.POST or None, organisation=organisation, initial=first)
    answer = save_form(
        request,
        form,
        lambda data: services.name_people(**actor_kwargs(request), approval=approval, people=[*data["people"]]),
        message=gettext("These hours are in money."),
        redirect_to=_next_after(request, pk),
    )
    length = format_minutes(hours.minutes)
    return answer or render(request, "costs/people.html", {"form": form, "hours": hours, "length": length})


def _next_after(request: HttpRequest, pk: int) -> str:
    """The next hours whose people are to be named, so that a day of them is gone through press by press."""
    found = next_to_name(organisation=request.organisation, after=pk) if request.method == "POST" else None
    return reverse("costs:time-people", args=[found]) if found else reverse("costs:time")


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, pk: int) -> HttpResponse:
    """One row; posting takes it back."""
    found = get_object_or_404(paid_time_of(organisation=request.organisation), pk=pk)
    form = TakeBackForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_back_time(**actor_kwargs(request), row=found, reason=data["reason"]),
        message=gettext("It is taken back."),
        redirect_to="costs:time",
    )
    page = row_page(found, time_facts(found)) | {"form": form, "back": "time", "list": gettext("Time in money")}
    return answer or render(request, "costs/row.html", page)
