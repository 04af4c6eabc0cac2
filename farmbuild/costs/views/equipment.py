"""Equipment by the day: the list with what is proposed, a typed day, and one row."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.costs.equipment import services
from farmbuild.costs.equipment.proposals import proposed_days
from farmbuild.costs.forms import EquipmentDayForm, TakeBackForm
from farmbuild.costs.lists import equipment_days_of
from farmbuild.costs.presenters import proposed, read_seen, row_page
from farmbuild.costs.tables import EquipmentDayTable


@require_GET
def rows(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    days = equipment_days_of(organisation=organisation)
    table = paged(request, EquipmentDayTable(days, organisation=organisation), rows=ROWS)
    found = proposed(proposed_days(organisation=organisation), organisation.currency)
    context = {"table": table, "count": table.paginator.count, "proposed": found}
    return render(request, "costs/equipment.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = EquipmentDayForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.charge_day(**actor_kwargs(request), **data),
        message="Recorded: {}.",
        redirect_to="costs:equipment",
    )
    words = "A day of one thing is charged once for a house or job."
    context = {"form": form, "title": "Record a day of equipment", "answer": words, "back": "equipment"}
    return answer or render(request, "costs/form.html", context)


@require_POST
def record(request: HttpRequest) -> HttpResponse:
    """What the page proposed, as it showed it."""
    return run_action(
        request,
        lambda: services.charge_proposed(**actor_kwargs(request), seen=read_seen(request.POST.get("seen", ""))),
        message="The days are recorded.",
        redirect_to="costs:equipment",
    )


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, pk: int) -> HttpResponse:
    """One row; posting takes it back."""
    found = get_object_or_404(equipment_days_of(organisation=request.organisation), pk=pk)
    form = TakeBackForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_back_day(**actor_kwargs(request), row=found, reason=data["reason"]),
        message="It is taken back.",
        redirect_to="costs:equipment",
    )
    parts = [("What", found.equipment), ("For", found.house or found.job), ("From", found.booking or "typed")]
    page = row_page(found, parts) | {"form": form, "back": "equipment", "list": "Equipment by the day"}
    return answer or render(request, "costs/row.html", page)
