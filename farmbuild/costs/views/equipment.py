"""Equipment by the day: the list with what is proposed, a typed day, and one row."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.costs.equipment import services
from farmbuild.costs.equipment.proposals import proposed_days
from farmbuild.costs.forms import EquipmentDayForm
from farmbuild.costs.lists import equipment_days_of
from farmbuild.costs.tables import EquipmentDayTable
from farmbuild.costs.views.posted import list_page, record_proposed, row_taken_back, typed_page

BACK = "equipment"


@require_GET
def rows(request: HttpRequest) -> HttpResponse:
    days = equipment_days_of(organisation=request.organisation)
    found = proposed_days(organisation=request.organisation)
    return list_page(request, days, EquipmentDayTable, found, back=BACK)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    words = gettext("A day of one thing is charged once for a house or job.")
    title = gettext("Record a day of equipment")
    return typed_page(request, EquipmentDayForm, services.charge_day, title=title, words=words, back=BACK)


@require_POST
def record(request: HttpRequest) -> HttpResponse:
    return record_proposed(request, services.charge_proposed, message=gettext("The days are recorded."), back=BACK)


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(equipment_days_of(organisation=request.organisation), pk=pk)
    parts = [
        (gettext("What"), found.equipment),
        (gettext("For"), found.house or found.job),
        (gettext("From"), found.booking or gettext("typed")),
    ]
    return row_taken_back(
        request, found, services.take_back_day, parts, back=BACK, listed=gettext("Equipment by the day")
    )
