"""Trips: the list with what is proposed, a typed one, and one row."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.speaking import said_count
from farmbuild.costs.forms import TripForm
from farmbuild.costs.lists import trip_rows_of
from farmbuild.costs.tables import TripTable
from farmbuild.costs.trips import services
from farmbuild.costs.trips.proposals import proposed_trips
from farmbuild.costs.views.posted import list_page, record_proposed, row_taken_back, typed_page
from farmbuild.measure import format_count

BACK = "trips"


@require_GET
def rows(request: HttpRequest) -> HttpResponse:
    trips = trip_rows_of(organisation=request.organisation)
    return list_page(request, trips, TripTable, proposed_trips(organisation=request.organisation), back=BACK)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    words = gettext("There and back counts as one trip.")
    return typed_page(request, TripForm, services.charge_trips, title=gettext("Record trips"), words=words, back=BACK)


@require_POST
def record(request: HttpRequest) -> HttpResponse:
    return record_proposed(request, services.charge_proposed, message=gettext("The trips are recorded."), back=BACK)


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(trip_rows_of(organisation=request.organisation), pk=pk)
    parts = [
        (gettext("To"), found.site),
        (gettext("For"), found.house or found.job or gettext("General expense")),
        (gettext("Trips"), format_count(found.times)),
        (gettext("Shared by"), said_count(found.shared, "house") if found.shared > 1 else ""),
        (gettext("From"), gettext("a day of %(crew)s") % {"crew": found.crew} if found.crew else gettext("typed")),
    ]
    return row_taken_back(request, found, services.take_back_trip, parts, back=BACK, listed=gettext("Trips"))
