"""Pages of who holds what: the list, one hold, letting go of it, cutting it as planned, swapping it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.paging import paged
from farmbuild.measure import count_noun
from farmbuild.orgs.clock import today_of
from farmbuild.plans.reserving import services, swapping
from farmbuild.plans.reserving.forms import CutReservedForm, ReleaseForm, ReservationFilter, SwapForm
from farmbuild.plans.reserving.tables import SoonerTable
from farmbuild.plans.reserving.words import there, things
from farmbuild.stock.cut_drawing import cut_drawing, cut_in_words
from farmbuild.stock.cutting import cut_reserved, layout_of, lengths_of
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import reservations_of, reserved_sums
from farmbuild.stock.reserving.tables import ReservationTable
from farmbuild.stock.reserving.words import for_whom, length_of, material_of, where

ROWS = 25


@require_GET
def reservation_list(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    filter_form = ReservationFilter(request.GET, organisation=organisation)
    rows = filter_form.filter_rows(reservations_of(organisation=organisation))
    table = ReservationTable(rows, organisation=organisation)
    paged(request, table, rows=ROWS)
    context = {
        "table": table,
        "count": table.paginator.count,
        "sums": reserved_sums(rows),
        "filter_form": filter_form,
        "is_filtered": any(request.GET.get(name) for name in filter_form.fields),
    }
    return render(request, "plans/held/list.html", context)


def _reservation(request: HttpRequest, pk: int) -> Reservation:
    return get_object_or_404(reservations_of(organisation=request.organisation), pk=pk)


def _context(row: Reservation, **more: Any) -> dict[str, Any]:
    return {
        "reservation": row,
        "things": things(row),
        "length": length_of(row),
        "where": where(row),
        "whom": for_whom(row),
        "late": swapping.days_late(swapping.ready_on(row), row.need_by),
    } | more


@require_GET
def reservation(request: HttpRequest, pk: int) -> HttpResponse:
    row = _reservation(request, pk)
    sooner = swapping.sooner_reservations(organisation=request.organisation, waiting=row)
    lengths = lengths_of(row)
    cuts = row.lot is not None and bool(lengths) and lengths != [row.lot.length]
    table = SoonerTable(sooner, waiting=row, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    return render(request, "plans/held/one.html", _context(row, cuts=cuts, sooner=table, others=len(sooner)))


def release(request: HttpRequest, pk: int) -> HttpResponse:
    row = _reservation(request, pk)
    form = ReleaseForm(request.POST or None, initial={"quantity": row.quantity}, organisation=request.organisation)
    if form.is_valid():
        try:
            services.release(organisation=request.organisation, user=request.user, reservation=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request, gettext("%(row)s are not held any more.") % {"row": things(row, form.cleaned_data["quantity"])}
            )
            return redirect("stock:held")
    return render(request, "plans/held/release.html", _context(row, form=form))


def cut(request: HttpRequest, pk: int) -> HttpResponse:
    organisation = request.organisation
    row = _reservation(request, pk)
    lengths = lengths_of(row)
    if row.lot is None or lengths in ([], [row.lot.length]):
        messages.info(
            request, gettext("These sticks are not cut, or not there yet. Issue them to their house when they are.")
        )
        return redirect("stock:held-one", row.pk)
    form = CutReservedForm(request.POST or None, initial={"sticks": row.quantity}, organisation=organisation)
    layout = layout_of(organisation=organisation, lot=row.lot, pieces=lengths, keep=False)
    if form.is_valid():
        try:
            done = cut_reserved(organisation=organisation, user=request.user, reservation=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error, pieces="sticks", quantity="sticks")
        else:
            lots = ", ".join(lot.reference for lot in (*done.pieces, *filter(None, [done.offcut])))
            messages.success(
                request,
                gettext("%(cleaned_data)s of %(lot)s cut into %(lots)s; the houses hold their pieces.")
                % {"cleaned_data": count_noun(form.cleaned_data["sticks"], "stick"), "lot": row.lot, "lots": lots},
            )
            return redirect("stock:lot", row.lot_id)
    drawing, words = cut_drawing(layout, organisation), cut_in_words(layout, organisation)
    return render(request, "plans/held/cut.html", _context(row, form=form, drawing=drawing, words=words))


def swap(request: HttpRequest, pk: int, other: int) -> HttpResponse:
    """Shows what the swap does to both; only what was shown is posted."""
    organisation, today = request.organisation, today_of(organisation=request.organisation)
    row, theirs = _reservation(request, pk), _reservation(request, other)
    most = swapping.max_quantity(row, theirs)
    asked = request.POST or request.GET
    form = SwapForm(asked if "quantity" in asked else {"quantity": most}, organisation=organisation)
    effect = None
    if form.is_valid():
        quantity, seen = form.cleaned_data["quantity"], form.cleaned_data["seen"]
        try:
            if "swap" in request.POST:
                swapping.swap(
                    organisation=organisation,
                    user=request.user,
                    waiting=row.pk,
                    held=theirs.pk,
                    quantity=quantity,
                    seen=seen,
                    today=today,
                )
                messages.success(
                    request,
                    gettext("%(theirs)s are held for %(house)s now; %(house_2)s gets its turn.")
                    % {"theirs": things(theirs, quantity), "house": row.house, "house_2": theirs.house},
                )
                return redirect("plans:house-held", row.house.slug)
            effect = swapping.effect_of(
                organisation=organisation, waiting=row, held=theirs, quantity=quantity, today=today
            )
        except ValidationError as error:
            add_service_errors(form, error)
    context = _context(
        row,
        theirs=theirs,
        material=material_of(theirs),
        their_where=where(theirs),
        form=form,
        effect=effect,
        what=things(theirs, effect.quantity) if effect else "",
        sides=[
            (side, there(side.before), there(side.after)) for side in ((effect.taker, effect.giver) if effect else ())
        ],
        most=most,
    )
    return render(request, "plans/held/swap.html", context)
