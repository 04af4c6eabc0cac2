"""Pages of invoices: the list, one that is recorded, looked at or reversed, and files for the accountant."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.functional import cached_property
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_GET

from farmbuild.buying.forms import ReasonForm
from farmbuild.buying.invoices import crediting, files, selectors, services
from farmbuild.buying.invoices.credit_lines import CreditedEntry, credit_entries
from farmbuild.buying.invoices.forms import CheckForm, CreditForm, InvoiceForm
from farmbuild.buying.invoices.lines import BilledEntry, empty_entries, typed_entries
from farmbuild.buying.invoices.presenters import invoice_page, unbilled_pieces
from farmbuild.buying.invoices.tables import AdjustmentTable, InvoiceLineTable, InvoiceTable
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import Invoice, PurchaseOrder
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import actor_kwargs, parse_day, save_form
from farmbuild.common.paging import PagedTables, paged

LINES_AT_ONCE = 500
ROWS = 100
CSV = "text/csv; charset=utf-8"


class InvoiceList(PagedTables):
    table_class = InvoiceTable
    template_name = "buying/invoices/list.html"

    @property
    def all_of_them(self) -> bool:
        return self.request.GET.get("show") == "all"

    @cached_property
    def period(self) -> dict[str, Any]:
        return _period(self.request)

    def get_queryset(self) -> QuerySet[Invoice]:
        rows = selectors.invoices_of if self.all_of_them else selectors.to_look_at
        return selectors.in_period(rows(organisation=self.request.organisation), **self.period)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        context = super().get_context_data(**kwargs)
        organisation = self.request.organisation
        return context | {
            "all_of_them": self.all_of_them,
            "period": self.period,
            "count": context["table"].paginator.count,
            # Asked only where the page has no row to show.
            "any_invoice": selectors.invoices_of(organisation=organisation).exists,
        }


def _period(request: HttpRequest) -> dict[str, Any]:
    """Days of the address; what is no day bounds nothing."""
    return {name: parse_day(request.GET.get(name, "")) for name in ("since", "until")}


def new(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    lines = list(selectors.charged_lines(order=order))
    unbilled = unbilled_pieces(lines)
    if request.method == "POST":
        form = InvoiceForm(request.POST, organisation=request.organisation)
        sent = [line for line in lines if f"quantity-{line.position}" in request.POST]
        entries = typed_entries(sent, unbilled, request.POST, organisation=request.organisation)
        if invoice := _recorded(request, order, form, entries):
            return redirect(invoice)
    else:
        initial = {"tax_included": order.tax_included, "recovered": request.organisation.recovers_tax}
        form = InvoiceForm(organisation=request.organisation, initial=initial)
        entries = empty_entries(lines[:LINES_AT_ONCE], unbilled)
    context = {
        "order": order,
        "form": form,
        "entries": entries,
        "problems": [problem for entry in entries for problem in entry.problems],
        "more": request.method != "POST" and len(lines) > LINES_AT_ONCE,
        "count": len(lines),
    }
    return render(request, "buying/invoices/new.html", context)


def _recorded(
    request: HttpRequest, order: PurchaseOrder, form: InvoiceForm, entries: list[BilledEntry]
) -> Invoice | None:
    """The invoice, or None with what is wrong at the boxes."""
    if not form.is_valid() or any(entry.problems for entry in entries):
        return None
    data = form.cleaned_data
    try:
        return services.record_invoice(
            **actor_kwargs(request),
            order=order,
            paper=form.paper(tax_included=data["tax_included"], recovered=data["recovered"]),
            lines=[entry.billed() for entry in entries],
            token=data["token"],
        ).invoice
    except services.BilledProblems as error:
        by_line = {entry.line.pk: entry for entry in entries}
        for line, field, sentence in error.problems:
            by_line[line].add_error(field, sentence)
    except ValidationError as error:
        add_service_errors(form, error)
    return None


def credit(request: HttpRequest, number: str, invoice: int) -> HttpResponse:
    """A credit note of the supplier, which takes part of an invoice back."""
    row = _invoice(request, number, invoice, credits=None, reversed_at=None)
    left = [one for one in crediting.left_of(row) if one.quantity or one.total]
    form = CreditForm(request.POST or None, organisation=request.organisation)
    sent = [one for one in left if request.method != "POST" or f"quantity-{one.line.position}" in request.POST]
    entries = credit_entries(sent[:LINES_AT_ONCE], request.POST, organisation=request.organisation)
    if request.method == "POST" and (note := _credited(request, row, form, entries)):
        return redirect(note)
    context = {
        "invoice": row,
        "order": row.order,
        "form": form,
        "entries": entries,
        "problems": [problem for entry in entries for problem in entry.problems],
    }
    return render(request, "buying/invoices/credit.html", context)


def _credited(request: HttpRequest, invoice: Invoice, form: CreditForm, entries: list[CreditedEntry]) -> Invoice | None:
    """The credit note, or None with what is wrong at the boxes."""
    if not form.is_valid() or any(entry.problems for entry in entries):
        return None
    try:
        return crediting.record_credit(
            **actor_kwargs(request),
            invoice=invoice,
            paper=form.paper(tax_included=invoice.tax_included),
            lines=[entry.credited() for entry in entries],
            token=form.cleaned_data["token"],
        ).invoice
    except services.BilledProblems as error:
        by_line = {entry.left.line.pk: entry for entry in entries}
        for line, field, sentence in error.problems:
            by_line[line].add_error(field, sentence)
    except ValidationError as error:
        add_service_errors(form, error)
    return None


def _invoice(request: HttpRequest, number: str, invoice: int, **more: Any) -> Invoice:
    rows = selectors.invoices_of(organisation=request.organisation)
    return get_object_or_404(rows, order__number=number, position=invoice, **more)


def show(request: HttpRequest, number: str, invoice: int) -> HttpResponse:
    row = _invoice(request, number, invoice)
    adjustments = AdjustmentTable(selectors.adjustments_of_invoice(invoice=row), prefix="booked-")
    context = {
        "invoice": row,
        "order": row.order,
        "page": invoice_page(invoice=row),
        "check": getattr(row, "check_made", None),
        "table": paged(request, InvoiceLineTable(selectors.invoice_lines_of(invoice=row)), rows=ROWS),
        "adjustments": paged(request, adjustments),
    }
    return render(request, "buying/invoices/invoice.html", context)


def check(request: HttpRequest, number: str, invoice: int) -> HttpResponse:
    row = _invoice(request, number, invoice)
    form = CheckForm(request.POST or None, organisation=request.organisation)
    done = save_form(
        request,
        form,
        lambda data: services.check_invoice(**actor_kwargs(request), invoice=row, **data),
        message=gettext("It is off the list of invoices to look at."),
        redirect_to=row,
    )
    context = {"invoice": row, "order": row.order, "form": form, "page": invoice_page(invoice=row)}
    return done or render(request, "buying/invoices/check.html", context)


def reverse(request: HttpRequest, number: str, invoice: int) -> HttpResponse:
    row = _invoice(request, number, invoice)
    form = ReasonForm(
        request.POST or None, organisation=request.organisation, example=gettext("typed from the wrong paper")
    )
    done = save_form(
        request,
        form,
        lambda data: services.reverse_invoice(**actor_kwargs(request), invoice=row, **data),
        message=gettext("{0.named} is reversed."),
        redirect_to=row,
    )
    return done or render(request, "buying/invoices/reverse.html", {"invoice": row, "order": row.order, "form": form})


@require_GET
def invoices_csv(request: HttpRequest) -> HttpResponse:
    rows = files.invoice_rows(organisation=request.organisation, **_period(request))
    return _file(request, "invoices.csv", rows)


@require_GET
def received_csv(request: HttpRequest) -> HttpResponse:
    rows = files.received_rows(organisation=request.organisation, **_period(request))
    return _file(request, "received.csv", rows)


def _file(request: HttpRequest, name: str, rows: Any) -> HttpResponse:
    data = files.csv_text(rows, currency=request.organisation.currency)
    return HttpResponse(data, content_type=CSV, headers={"Content-Disposition": content_disposition_header(True, name)})
