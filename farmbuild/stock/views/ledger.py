"""Pages of the ledger, of one movement, and of what is done with a lot."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.forms import OrgForm
from farmbuild.common.pages import actor_kwargs, run_action
from farmbuild.common.paging import paged
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import moment
from farmbuild.orgs.answers.kept import WORK, Answers
from farmbuild.stock import ledger as ledger_services
from farmbuild.stock import services
from farmbuild.stock.cut_drawing import cut_drawing, cut_in_words
from farmbuild.stock.cutting import cut_sticks, layout_of
from farmbuild.stock.labels.taps import taken_in
from farmbuild.stock.ledger_drawing import ledger_line
from farmbuild.stock.ledger_forms import (
    CutForm,
    GiveBackForm,
    IssueForm,
    LedgerFilter,
    LendForm,
    MoveForm,
    ReturnForm,
    WhyForm,
)
from farmbuild.stock.ledger_selectors import count_up_to, ledger_of, movement_rows, open_loans, shares_of
from farmbuild.stock.ledger_tables import LedgerTable, LoanTable, ShareTable, signed, what, who, why
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.selectors import lots_of
from farmbuild.stock.tables import CountedPaginator
from farmbuild.stock.words import noun_of

ROWS = 25
#: Movements that the ledger leafs through; older ones are found by day. Counting a million would take seconds.
MAX_ROWS = 10_000


def ledger(request: HttpRequest) -> HttpResponse:
    with Answers(request) as answers:
        found = answers.get("ledger", lambda: _ledger_shown(answers), request.GET.urlencode(), without=WORK)
    return render(request, "stock/ledger.html", found)


def _ledger_shown(answers: Answers) -> dict[str, Any]:
    organisation, request = answers.organisation, answers.request
    filter_form = LedgerFilter(request.GET, organisation=organisation)
    rows = filter_form.filter_rows(ledger_of(organisation=organisation))
    count, more = count_up_to(rows, MAX_ROWS)
    table = LedgerTable(rows, organisation=organisation)
    paged(request, table, rows=ROWS, paginator_class=partial(CountedPaginator, rows=count))
    newest = next(iter(table.page.object_list.data), None) if table.page.number == 1 else None
    said = {
        "count": count,
        "more": more,
        "newest": newest and str(_told(newest)),
        "is_filtered": any(request.GET.get(name) for name in filter_form.fields),
    }
    line = ledger_line(organisation=organisation, rows=rows, count=count)
    shown = answers.shown("stock/ledger_shown.html", table=table, line=line, filter_form=filter_form, **said)
    return said | {"shown": shown}


def loans(request: HttpRequest) -> HttpResponse:
    table = LoanTable(open_loans(organisation=request.organisation), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    return render(request, "stock/loans.html", {"table": table, "count": table.paginator.count})


def _movement(request: HttpRequest, pk: int) -> Movement:
    return get_object_or_404(movement_rows(organisation=request.organisation), pk=pk)


def _others(row: Movement) -> list[Movement]:
    """Recorded together with it."""
    return [other for other in ledger_services.recorded_together(row) if other.pk != row.pk]


def movement(request: HttpRequest, pk: int) -> HttpResponse:
    row = _movement(request, pk)
    reversed_by = getattr(row, "reversed_by", None)
    shares = ShareTable(shares_of(movement=row), organisation=request.organisation)
    context = {
        "movement": row,
        "shares": shares,
        "what": what(row),
        "pieces": signed(row.quantity),
        "when": moment(row.at),
        "who": who(row.by),
        "why": why(row),
        "reversed_by": reversed_by,
        "together": _others(row),
        "out": ledger_services.pieces_still_lent(row) if row.kind == Movement.Kind.LEND and not row.reverses_id else 0,
    }
    return render(request, "stock/movement.html", context)


def reverse_movement(request: HttpRequest, pk: int) -> HttpResponse:
    row = _movement(request, pk)
    form = WhyForm(request.POST or None, organisation=request.organisation)
    if form.is_valid():
        try:
            ledger_services.reverse(
                organisation=request.organisation, user=request.user, movement=row, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request,
                gettext("%(row)s %(quantity)s of %(lot)s is reversed.")
                % {"row": what(row), "quantity": signed(row.quantity), "lot": row.lot},
            )
            return redirect("stock:movement", row.pk)
    together = len(_others(row))
    context = {"form": form, "movement": row, "what": what(row), "pieces": signed(row.quantity), "together": together}
    return render(request, "stock/reverse.html", context)


def give_back(request: HttpRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(open_loans(organisation=request.organisation), pk=pk)
    form = GiveBackForm(request.POST or None, initial={"quantity": row.out}, organisation=request.organisation)
    if form.is_valid():
        try:
            ledger_services.return_loan(
                organisation=request.organisation, user=request.user, loan=row, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            done = said_count(form.cleaned_data["quantity"], "piece")
            messages.success(
                request, gettext("%(done)s back from %(borrower)s.") % {"done": done, "borrower": row.borrower}
            )
            return redirect("stock:lot", row.lot_id)
    return render(request, "stock/give_back.html", {"form": form, "loan": row})


# What is done with a lot


def _lot(request: HttpRequest, pk: int) -> Lot:
    return get_object_or_404(lots_of(organisation=request.organisation), pk=pk)


def back_to_lot(request: HttpRequest, row: Lot) -> HttpResponse:
    """The page of the lot, or the one that its label opens, where that led here."""
    return redirect("stock:lot-short", row.reference) if "label" in request.GET else redirect("stock:lot", row.pk)


@require_POST
def put_back(request: HttpRequest, pk: int) -> HttpResponse:
    row = _movement(request, pk)
    pieces = said_count(-row.quantity, "piece")
    return run_action(
        request,
        lambda: ledger_services.put_back(movement=row, **actor_kwargs(request)),
        message=gettext("%(pieces)s of %(reference)s returned.") % {"pieces": pieces, "reference": row.lot.reference},
        redirect_to=back_to_lot(request, row.lot).url,
    )


def _movement_page(
    request: HttpRequest,
    pk: int,
    form_class: type[OrgForm],
    service: Callable[..., Any],
    title: str,
    submit_label: str,
    done_text: str,
) -> HttpResponse:
    """A page with one form that does one thing with a lot; ``done`` is said then, after how many."""
    row = _lot(request, pk)
    # What a hold links here with is filled in, and what was tapped on the phone page.
    filled = {"house": request.GET.get("house"), "quantity": taken_in(request.GET)}
    form = form_class(request.POST or None, initial=filled, organisation=request.organisation)
    if form.is_valid():
        try:
            service(organisation=request.organisation, user=request.user, lot=row, **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
            row.refresh_from_db(fields=["on_hand", "reserved"])
        else:
            messages.success(
                request,
                gettext("%(cleaned_data)s of %(reference)s %(done_text)s.")
                % {
                    "cleaned_data": said_count(form.cleaned_data["quantity"], "piece"),
                    "reference": row.reference,
                    "done_text": done_text,
                },
            )
            return back_to_lot(request, row)
    context = {
        "form": form,
        "lot": row,
        "there": said_count(row.on_hand, noun_of(row.material, offcut=row.offcut)),
        "title": title,
        "submit_label": submit_label,
    }
    return render(request, "stock/act.html", context)


def issue(request: HttpRequest, pk: int) -> HttpResponse:
    return _movement_page(
        request, pk, IssueForm, services.issue_pieces, gettext("Issue pieces"), gettext("Issue"), gettext("issued")
    )


def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    return _movement_page(
        request,
        pk,
        ReturnForm,
        services.return_pieces,
        gettext("Return pieces"),
        gettext("Return to stock"),
        gettext("returned"),
    )


def move(request: HttpRequest, pk: int) -> HttpResponse:
    return _movement_page(
        request,
        pk,
        MoveForm,
        ledger_services.move_pieces,
        gettext("Move pieces"),
        gettext("Move them"),
        gettext("moved"),
    )


def lend(request: HttpRequest, pk: int) -> HttpResponse:
    return _movement_page(
        request,
        pk,
        LendForm,
        ledger_services.lend_pieces,
        gettext("Lend pieces"),
        gettext("Lend them"),
        gettext("lent"),
    )


def cut(request: HttpRequest, pk: int) -> HttpResponse:
    """Draws the cut first; only the layout that was shown is cut."""
    organisation = request.organisation
    row = _lot(request, pk)
    filled = {"sticks": taken_in(request.GET) or 1}
    form = CutForm(request.POST or None, initial=filled, organisation=organisation)
    layout = None
    if form.is_valid():
        data = form.cleaned_data
        given = {"organisation": organisation, "lot": row, "pieces": form.pieces(), "keep": data["keep"]}
        try:
            layout = layout_of(**given)
            if data["drawn"] == str(layout) and "cut" in request.POST:
                also = {name: data[name] for name in ("sticks", "house", "reason", "paper")}
                made = cut_sticks(user=request.user, **given, **also)
                lots = ", ".join(lot.reference for lot in (*made.pieces, *filter(None, [made.offcut])))
                messages.success(
                    request,
                    gettext("%(data)s of %(reference)s cut into %(lots)s.")
                    % {"data": said_count(data["sticks"], "stick"), "reference": row.reference, "lots": lots},
                )
                return back_to_lot(request, row)
        except ValidationError as error:
            add_service_errors(form, error, pieces="length_1")
            row.refresh_from_db(fields=["on_hand"])
            layout = None
        else:
            form.data = form.data.copy()
            form.data["drawn"] = str(layout)
    context = {
        "form": form,
        "lot": row,
        "there": said_count(row.on_hand, noun_of(row.material, offcut=row.offcut)),
        "drawing": cut_drawing(layout, organisation) if layout else "",
        "words": cut_in_words(layout, organisation) if layout else "",
        "sticks": said_count(form.cleaned_data["sticks"], "stick") if layout else "",
        "many": layout is not None and form.cleaned_data["sticks"] > 1,
    }
    return render(request, "stock/cut.html", context)


def _told(row: Movement) -> str:
    return gettext("%(what)s, %(pieces)s of %(lot)s on %(when)s") % {
        "what": what(row).lower(),
        "pieces": signed(row.quantity),
        "lot": row.lot,
        "when": moment(row.at),
    }
