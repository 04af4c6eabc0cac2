"""Pages of counts: the list, a new one, one with its places, and giving one up."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext

from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import first_rows
from farmbuild.common.paging import paged
from farmbuild.common.templatetags.farm import moment
from farmbuild.stock.counts import selectors, services
from farmbuild.stock.counts.forms import StartForm
from farmbuild.stock.counts.tables import CountPlaceTable, CountTable
from farmbuild.stock.ledger_tables import who
from farmbuild.stock.models import Place, StockCount
from farmbuild.stock.services import place_named

ROWS = 25
#: Numbers of open counts that the list names.
MAX_NAMED = 5


def count_of(request: HttpRequest, number: int) -> StockCount:
    return get_object_or_404(selectors.counts_of(organisation=request.organisation), number=number)


def place_of(count: StockCount, pk: int) -> Place:
    return get_object_or_404(selectors.count_places_of(count=count), place=pk).place


def counts(request: HttpRequest) -> HttpResponse:
    table = CountTable(selectors.count_rows(organisation=request.organisation), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    open_ones, more = first_rows(selectors.open_counts_of(organisation=request.organisation), MAX_NAMED)
    context = {
        "table": table,
        "count": table.paginator.count,
        "open_numbers": [one.number for one in open_ones],
        "more": more,
    }
    return render(request, "stock/counts/list.html", context)


def start(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    places = selectors.places_free_to_count(organisation=organisation)
    given = {"places": request.GET.getlist("place")}
    form = StartForm(request.POST or None, initial=given, places=places, organisation=organisation)
    if form.is_valid():
        data = dict(form.cleaned_data)
        name, site = data.pop("new_place"), data.pop("site")
        who = {"organisation": organisation, "user": request.user}
        try:
            with transaction.atomic():
                if name:
                    data["places"].append(place_named(**who, name=name, site=site))
                count = services.start_count(**who, **data)
        except ValidationError as error:
            add_service_errors(form, error, name="new_place")
        else:
            messages.success(
                request,
                gettext("%(count)s is open. Print its sheets, or count a place on the phone.") % {"count": count},
            )
            return redirect("stock:count", count.number)
    return render(request, "stock/counts/start.html", {"form": form})


def count(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    places = selectors.places_of_count(count=row)
    table = CountPlaceTable(places, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    finds = selectors.finds_of(count=row)
    context = {
        "count": row,
        "table": table,
        "place_count": len(places),
        "totals": selectors.sheet_totals(count=row),
        "next": next((one.place for one in places if one.left), None),
        "started": moment(row.started_at),
        "starter": who(row.started_by),
        "ended": row.ended_at and moment(row.ended_at),
        "ended_by": who(row.ended_by),
        "finds": len([find for find in finds if not find.taken_back]),
        "sums": None if row.is_open else selectors.sums_of(count=row, finds=finds),
    }
    return render(request, "stock/counts/count.html", context)


def drop(request: HttpRequest, number: int) -> HttpResponse:
    row = count_of(request, number)
    if request.method == "POST":
        try:
            services.cancel_count(organisation=request.organisation, user=request.user, count=row)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(request, gettext("%(row)s is cancelled. The stock record stays as it is.") % {"row": row})
        return redirect("stock:count", row.number)
    return render(request, "stock/counts/drop.html", {"count": row})
