"""Pages of lots and places. Files are read on the pages of imports."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.catalogue.selectors import materials_of
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import ROWS, get_object_or_none, save_form
from farmbuild.common.paging import paged
from farmbuild.common.speaking import said_count
from farmbuild.orgs.answers.kept import WORK, Answers
from farmbuild.stock import services
from farmbuild.stock.forms import CountForm, LotFilter, LotForm, PlaceForm, ReceiveForm, ScrapForm
from farmbuild.stock.leave import leaves_of
from farmbuild.stock.ledger import issue_to_put_back
from farmbuild.stock.ledger_selectors import lot_history, repricings_of
from farmbuild.stock.ledger_tables import HistoryTable, RepricingTable
from farmbuild.stock.models import Lot
from farmbuild.stock.piles.presenters import picture_of
from farmbuild.stock.piles.selectors import materials_piled, piled, piled_lot
from farmbuild.stock.reserving.selectors import reservations_of_lot
from farmbuild.stock.reserving.tables import ReservationTable
from farmbuild.stock.selectors import (
    every_lot,
    has_members,
    heaps_of,
    lot_rows,
    lots_of,
    places_of,
    places_with_lots,
    totals_of,
)
from farmbuild.stock.tables import CountedPaginator, LotTable, PlaceTable
from farmbuild.stock.values import worth_of
from farmbuild.stock.words import are_alike, heaps_in_words, lead_of, noun_of

#: Materials whose piles stand on one page, and lots below them.
MATERIALS, LOTS = 28, 6
#: What a lot's own page says already.
HELD_HERE = ("material", "length", "where")


def lots(request: HttpRequest) -> HttpResponse:
    with Answers(request) as answers:
        found = answers.get("lots", lambda: _lots_shown(answers), request.GET.urlencode(), without=WORK)
    return render(request, "stock/lots.html", found)


def _lots_shown(answers: Answers) -> dict[str, Any]:
    organisation, request = answers.organisation, answers.request
    filter_form = LotFilter(request.GET, organisation=organisation)
    rows = filter_form.filter_rows(every_lot(organisation=organisation))
    materials = list(materials_of(organisation=organisation))
    heaps = heaps_of(rows, materials=materials, organisation=organisation)
    totals = totals_of(heaps)
    coming = filter_form.coming()
    drawn = Paginator(materials_piled(heaps, coming, materials), MATERIALS).get_page(request.GET.get("piles"))
    piles = piled(rows, heaps=heaps, materials=drawn.object_list, coming=coming)
    table = LotTable(
        lot_rows(rows, organisation=organisation),
        organisation=organisation,
        totals=totals,
        alike=are_alike(heaps),
        owners="owner" in filter_form.fields,
    )
    # The sums bring the number of lots with them, so the pages need no count of their own.
    paged(request, table, rows=LOTS, paginator_class=partial(CountedPaginator, rows=totals.lots))
    is_filtered = any(request.GET.get(name) for name in filter_form.fields)
    context = {
        "table": table,
        "totals": totals,
        "words": heaps_in_words(heaps),
        "filter_form": filter_form,
        "is_filtered": is_filtered,
        "drawn": drawn,
        "picture": picture_of(piles, organisation=organisation),
    }
    return {
        "lots": totals.lots,
        "lead": lead_of(heaps),
        "is_filtered": is_filtered,
        "shown": answers.shown("stock/lots_shown.html", **context),
    }


def _lot(request: HttpRequest, pk: int) -> Lot:
    return get_object_or_404(lots_of(organisation=request.organisation), pk=pk)


def lot(request: HttpRequest, pk: int) -> HttpResponse:
    row = _lot(request, pk)
    table = HistoryTable(lot_history(organisation=request.organisation, lot=row), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    held = ReservationTable(
        reservations_of_lot(lot=row), organisation=request.organisation, prefix="h-", exclude=HELD_HERE
    )
    paged(request, held, rows=ROWS)
    repriced = RepricingTable(repricings_of(lot=row), organisation=request.organisation, prefix="p-")
    paged(request, repriced, rows=ROWS)
    leaves = leaves_of(lot=row)
    context = {
        "lot": row,
        "leaves": leaves,
        "shared": bool(row.on_hand) and not row.owner_id and has_members(organisation=request.organisation),
        "repriced": repriced,
        "held": held,
        "worth": worth_of(row, organisation=request.organisation),
        "what": said_count(row.on_hand, noun_of(row.material, offcut=row.offcut)),
        "issued": issue_to_put_back(lot=row),
        "table": table,
        "picture": picture_of([piled_lot(row)] if row.on_hand else [], organisation=request.organisation),
    }
    return render(request, "stock/lot.html", context)


def _alike(request: HttpRequest) -> dict[str, Any]:
    """What the form begins with, where the address names a lot that this one is like."""
    like = request.GET.get("like", "")
    row = get_object_or_none(lots_of(organisation=request.organisation), pk=like if like.isdecimal() else "")
    if row is None:
        return {}
    own = {name: getattr(row, name) for name in ("length", "offcut", "unit_cost")}
    keys = {name: getattr(row, f"{name}_id") for name in ("material", "supplier")}
    return own | keys | {"place_name": row.place.name}


def receive(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    form = ReceiveForm(request.POST or None, initial=_alike(request), organisation=organisation)
    if form.is_valid():
        data: dict[str, Any] = dict(form.cleaned_data)
        name, site = data.pop("place_name"), data.pop("site")
        try:
            with transaction.atomic():
                place = services.place_named(organisation=organisation, user=request.user, name=name, site=site)
                made = services.receive_lot(organisation=organisation, user=request.user, place=place, **data)
        except ValidationError as error:
            add_service_errors(form, error, name="place_name", place="place_name")
        else:
            messages.success(
                request,
                gettext("%(reference)s is in stock: %(on_hand)s of %(material)s.")
                % {
                    "reference": made.reference,
                    "on_hand": said_count(made.on_hand, "piece"),
                    "material": made.material,
                },
            )
            return redirect("stock:lot", made.pk)
    materials = materials_of(organisation=organisation).exists()
    return render(request, "stock/receive.html", {"form": form, "materials": materials})


def edit(request: HttpRequest, pk: int) -> HttpResponse:
    organisation = request.organisation
    row = _lot(request, pk)
    reference = row.reference
    form = LotForm(request.POST or None, instance=row, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.change_lot(
            organisation=organisation, user=request.user, lot=row, data=data, reason=data.pop("reason", "")
        ),
        message=gettext("{0.reference} is saved."),
        redirect_to=reverse("stock:lot", args=[pk]),
    )
    return answer or render(request, "stock/lot_form.html", {"form": form, "lot": row, "reference": reference})


def count(request: HttpRequest, pk: int) -> HttpResponse:
    row = _lot(request, pk)
    form = CountForm(request.POST or None, initial={"seen": row.on_hand}, organisation=request.organisation)
    # What the books say needs no reason, so it is not asked for one.
    form.fields["reason"].required = request.POST.get("counted") != request.POST.get("seen")
    if form.is_valid():
        try:
            movement = services.adjust_by_count(
                organisation=request.organisation, user=request.user, lot=row, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
            # The next save is against the books as they are shown now.
            form.data = form.data.copy()
            row.refresh_from_db()
            form.data["seen"] = str(row.on_hand)
        else:
            text = (
                "The stock record was correct; nothing changed."
                if movement is None
                else f"{row.reference} is set to the count."
            )
            messages.success(request, text)
            return redirect("stock:lot", row.pk)
    return render(request, "stock/count.html", {"form": form, "lot": row})


def scrap(request: HttpRequest, pk: int) -> HttpResponse:
    row = _lot(request, pk)
    form = ScrapForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            services.scrap(organisation=request.organisation, user=request.user, lot=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
            row.refresh_from_db()
        else:
            done = said_count(form.cleaned_data["quantity"], "piece")
            messages.success(
                request, gettext("%(done)s of %(reference)s scrapped.") % {"done": done, "reference": row.reference}
            )
            return redirect("stock:lot", row.pk)
    return render(request, "stock/scrap.html", {"form": form, "lot": row})


def places(request: HttpRequest) -> HttpResponse:
    table = PlaceTable(places_with_lots(organisation=request.organisation), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    return render(request, "stock/places.html", {"table": table, "count": table.paginator.count})


def place(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(places_of(organisation=request.organisation), pk=pk)
    name = row.name
    form = PlaceForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.change_place(organisation=request.organisation, user=request.user, place=row, **data),
        message=gettext("{0.name} is saved."),
        redirect_to="stock:places",
    )
    return answer or render(request, "stock/place_form.html", {"form": form, "place": row, "name": name})
