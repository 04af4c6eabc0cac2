"""Trips: the list with what is proposed, a typed one, and one row."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged
from farmbuild.costs.forms import TakeBackForm, TripForm
from farmbuild.costs.lists import trip_rows_of
from farmbuild.costs.presenters import proposed, read_seen, row_page
from farmbuild.costs.tables import TripTable
from farmbuild.costs.trips import services
from farmbuild.costs.trips.proposals import proposed_trips
from farmbuild.measure import count_noun, format_count


@require_GET
def rows(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    trips = trip_rows_of(organisation=organisation)
    table = paged(request, TripTable(trips, organisation=organisation), rows=ROWS)
    found = proposed(proposed_trips(organisation=organisation), organisation.currency)
    context = {"table": table, "count": table.paginator.count, "proposed": found}
    return render(request, "costs/trips.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = TripForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.charge_trips(**actor_kwargs(request), **data),
        message="Recorded: {}.",
        redirect_to="costs:trips",
    )
    words = "There and back counts as one trip."
    context = {"form": form, "title": "Record trips", "answer": words, "back": "trips"}
    return answer or render(request, "costs/form.html", context)


@require_POST
def record(request: HttpRequest) -> HttpResponse:
    """What the page proposed, as it showed it."""
    return run_action(
        request,
        lambda: services.charge_proposed(**actor_kwargs(request), seen=read_seen(request.POST.get("seen", ""))),
        message="The trips are recorded.",
        redirect_to="costs:trips",
    )


@require_http_methods(["GET", "POST"])
def row(request: HttpRequest, pk: int) -> HttpResponse:
    """One row; posting takes it back."""
    found = get_object_or_404(trip_rows_of(organisation=request.organisation), pk=pk)
    form = TakeBackForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.take_back_trip(**actor_kwargs(request), row=found, reason=data["reason"]),
        message="It is taken back.",
        redirect_to="costs:trips",
    )
    parts = [
        ("To", found.site),
        ("For", found.house or found.job or "General expense"),
        ("Trips", format_count(found.times)),
        ("Shared by", count_noun(found.shared, "house") if found.shared > 1 else ""),
        ("From", f"a day of {found.crew}" if found.crew else "typed"),
    ]
    page = row_page(found, parts) | {"form": form, "back": "trips", "list": "Trips"}
    return answer or render(request, "costs/row.html", page)
