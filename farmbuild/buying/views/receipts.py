"""Pages on which goods come in: the form, a receipt, its reversal."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext

from farmbuild.buying import receiving, selectors
from farmbuild.buying.forms import ReasonForm, ReceiptForm
from farmbuild.buying.invoices.forms import WithReceiptForm
from farmbuild.buying.invoices.with_receipt import BillProblems, receive_with_invoice
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import PurchaseOrder, Receipt
from farmbuild.buying.progress import progress_of
from farmbuild.buying.receipt_lines import LineEntry, empty_entries, typed_entries
from farmbuild.buying.tables import ReceiptLineTable
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.paging import paged
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act, may

LINES_AT_ONCE = 500
ROWS = 100


def receive(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    show_all, filled = request.GET.get("lines") == "all", request.GET.get("fill") == "all"
    lines = list(selectors.lines_of(order=order))
    # A lot's page leads here for one line, with where that lot lies.
    only, place = request.GET.get("line", ""), request.GET.get("place", "")[:80]
    shown = [line for line in lines if (str(line.position) == only if only else show_all or line.to_come)]
    if request.method == "POST":
        # Lines that came in meanwhile stand in the form that was sent; they are read too.
        sent = [line for line in lines if f"arrived-{line.position}" in request.POST]
        form = ReceiptForm(request.POST, organisation=request.organisation)
        entries = typed_entries(sent, request.POST, organisation=request.organisation)
        paper = WithReceiptForm(request.POST, organisation=request.organisation) if _bills(request) else None
        receipt = _received(request, order, form, entries, paper)
        if receipt:
            return redirect("buying:receipt", order.number, receipt.number)
        order.refresh_from_db(fields=["state"])
        form.data = form.data.copy()
        form.data["seen"] = str(order.receipts.count())
    else:
        initial = {"seen": order.receipts.count(), "place": place}
        form = ReceiptForm(organisation=request.organisation, initial=initial)
        paper = WithReceiptForm(organisation=request.organisation) if _bills(request) else None
        entries = empty_entries(shown[:LINES_AT_ONCE], filled=filled)
    context = {
        "order": order,
        "form": form,
        "paper": paper,
        "entries": entries,
        "problems": [problem for entry in entries for problem in entry.problems],
        "progress": progress_of(order=order),
        "places": selectors.places_elsewhere(entry.line.delivery_site for entry in entries),
        "show_all": show_all,
        "filled": filled,
        "some_arrived": any(not line.to_come for line in lines),
        "only": only,
        "more": request.method != "POST" and len(shown) > LINES_AT_ONCE,
        "count": len(shown),
    }
    return render(request, "buying/receive.html", context)


def _bills(request: HttpRequest) -> bool:
    """Whether this reader records invoices too."""
    return amounts_shown() and may(organisation=request.organisation, user=request.user, act=Act.PLAN)


def _received(
    request: HttpRequest,
    order: PurchaseOrder,
    form: ReceiptForm,
    entries: list[LineEntry],
    paper: WithReceiptForm | None,
) -> Receipt | None:
    """The receipt, or None with what is wrong at the boxes."""
    valid = [form.is_valid(), paper is None or paper.is_valid(), not any(entry.problems for entry in entries)]
    if not all(valid):
        return None
    data = form.cleaned_data
    damaged_paid = data.pop("damaged_paid")
    try:
        done = receive_with_invoice(
            organisation=request.organisation,
            user=request.user,
            order=order,
            arrivals=[entry.arrival() for entry in entries],
            damage_credited=not damaged_paid,
            bill=paper.paper(tax_included=order.tax_included) if paper and paper.wanted else None,
            **data,
        )
    except BillProblems as error:
        add_service_errors(paper, ValidationError(error.error_dict))
        return None
    except receiving.LineProblems as error:
        by_line = {entry.line.pk: entry for entry in entries}
        for problem in error.problems:
            by_line[problem.line].add_error(problem.field, problem.sentence)
        return None
    except ValidationError as error:
        add_service_errors(form, error)
        return None
    if done.same:
        messages.info(request, gettext("This had been received already; nothing was received twice."))
    else:
        messages.success(
            request,
            gettext("Receipt %(receipt_number)s is written, and what came whole is in stock.")
            % {"receipt_number": done.receipt.number},
        )
    return done.receipt


def _receipt(request: HttpRequest, order: PurchaseOrder, number: int) -> Receipt:
    return get_object_or_404(selectors.receipts_of(order=order), number=number)


def receipt(request: HttpRequest, number: str, receipt: int) -> HttpResponse:
    order = order_or_404(request, number)
    row = _receipt(request, order, receipt)
    table = ReceiptLineTable(selectors.receipt_lines_of(receipt=row))
    paged(request, table, rows=ROWS)
    context = {"order": order, "receipt": row, "reversal": getattr(row, "reversed_by", None), "table": table}
    return render(request, "buying/receipt.html", context)


def reverse(request: HttpRequest, number: str, receipt: int) -> HttpResponse:
    order = order_or_404(request, number)
    row = _receipt(request, order, receipt)
    form = ReasonForm(
        request.POST or None, organisation=request.organisation, example=gettext("counted the wrong pile")
    )
    if form.is_valid():
        try:
            back = receiving.reverse_receipt(
                organisation=request.organisation, user=request.user, receipt=row, **form.cleaned_data
            )
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(
                request,
                gettext("Receipt %(row_number)s is reversed by receipt %(back_number)s.")
                % {"row_number": row.number, "back_number": back.number},
            )
            return redirect("buying:receipt", order.number, back.number)
    return render(request, "buying/reverse.html", {"order": order, "receipt": row, "form": form})
