"""An order, its bills and its receipts as the planner's landed cost takes them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models.functions import Coalesce

from farmbuild.buying.models import Invoice, InvoiceLine, PurchaseOrder, PurchaseOrderLine, ReceiptLine
from farmbuild.measure import line_tax, line_total, tax_within
from farmbuild.planning.buying.landed import (
    Arrival,
    Bill,
    Billed,
    BilledLine,
    Expected,
    Landed,
    OrderedLine,
    landed,
    landed_lines,
)

__all__ = [
    "Arrival",
    "Booked",
    "Landed",
    "bill_of",
    "expected_tax",
    "landed_costs",
    "landed_lines",
    "tax_percent_in",
]

_NONE = Decimal(0)


@dataclass(frozen=True)
class Booked:
    """A line of a receipt that stands, with what it should cost by all that is known now."""

    row: ReceiptLine
    cost: Landed


def tax_percent_in(line: PurchaseOrderLine, *, tax_included: bool) -> Decimal:
    """The percent of tax of a line, or what its tax comes to where none was kept."""
    if line.tax_percent is not None:
        return line.tax_percent
    base = line.line_total - (line.tax if tax_included else _NONE)
    return line.tax * 100 / base if base > 0 else _NONE


def _expected(order: PurchaseOrder, lines: Iterable[PurchaseOrderLine], *, recovered: bool) -> Expected:
    """As confirmed, else as ordered; what the order's sums have beyond its lines is delivery."""
    rows = list(lines)
    kept = sum((row.line_total for row in rows), _NONE)
    taxes = sum((row.tax for row in rows), _NONE)
    if order.tax_included and recovered:
        kept -= taxes
    elif not order.tax_included and not recovered:
        kept += taxes
    delivery = max(_NONE, order.total - (order.tax if recovered else _NONE) - kept)
    return Expected(
        [
            OrderedLine(row.pk, row.quantity, row.price_now, tax_percent_in(row, tax_included=order.tax_included))
            for row in rows
        ],
        delivery,
        order.tax_included,
        recovered,
        order.currency,
    )


def billed_of(order: PurchaseOrder) -> tuple[dict[int, Billed], Decimal]:
    """By line of the order what invoices that stand bill of it, less what is credited, and the delivery that they
    bill; two queries."""
    found: dict[int, Billed] = {}
    lines = InvoiceLine.objects.filter(invoice__order=order, invoice__reversed_at=None)
    of_invoice = Coalesce("invoice__credits", "invoice")
    rows = [*lines.order_by().values_list("order_line", of_invoice, "quantity", "landed")]
    with_pieces = {invoice for _, invoice, quantity, _ in rows if quantity}
    for line, invoice, quantity, cost in rows:
        before = found.get(line, Billed())
        if invoice in with_pieces:
            found[line] = replace(before, quantity=before.quantity + quantity, cost=before.cost + cost)
        else:
            found[line] = replace(before, beside=before.beside + cost)
    # Delivery that is credited is not waited for again.
    invoices = Invoice.objects.filter(order=order, reversed_at=None, credits=None)
    return found, sum(invoices.order_by().values_list("delivery", flat=True), _NONE)


def standing_receipt_lines(order: PurchaseOrder) -> list[ReceiptLine]:
    """Lines of receipts that nobody reversed, first come first."""
    rows = ReceiptLine.objects.filter(
        receipt__order=order, receipt__reverses=None, receipt__reversed_by=None
    ).select_related("receipt")
    return list(rows.order_by("receipt__number", "pk"))


def _arrival(key: int, line: PurchaseOrderLine, *, good: int, lost: int, price: Decimal) -> Arrival:
    return Arrival(key, line.pk, good, lost, None if price == line.price_now else price)


def landed_costs(
    *,
    order: PurchaseOrder,
    lines: Sequence[PurchaseOrderLine],
    recovered: bool,
    coming: Sequence[tuple[PurchaseOrderLine, int, int, Decimal]] = (),
) -> tuple[list[Booked], list[Landed]]:
    """What the receipts of an order cost by all that is known now, and what ``coming`` adds to them.

    ``lines``: all of the order. ``coming``: line, good pieces, damaged ones that nobody credits, and price of one.
    Three queries.
    """
    by_key = {line.pk: line for line in lines}
    standing = standing_receipt_lines(order)
    arrivals = [
        _arrival(
            key,
            by_key[row.order_line_id],
            good=row.good,
            lost=0 if row.receipt.damage_credited else row.damaged,
            price=row.unit_price,
        )
        for key, row in enumerate(standing)
    ]
    for line, good, lost, price in coming:
        arrivals.append(_arrival(len(arrivals), line, good=good, lost=lost, price=price))
    billed, delivery = billed_of(order)
    found = landed(_expected(order, lines, recovered=recovered), billed, delivery, arrivals)
    costs = [found[arrival.key] for arrival in arrivals]
    booked = [Booked(row, cost) for row, cost in zip(standing, costs, strict=False)]
    return booked, costs[len(standing) :]


def bill_of(
    *,
    lines: Iterable[tuple[PurchaseOrderLine, int, Decimal]],
    currency: str,
    delivery: Decimal,
    tax: Decimal,
    total: Decimal | None,
    tax_included: bool,
    tax_recovered: bool,
) -> Bill:
    """``lines``: line of the order, pieces and price billed. ``total`` None: as it adds up."""
    rows = [
        BilledLine(
            line.pk,
            quantity,
            line_total(quantity, price, currency),
            tax_percent_in(line, tax_included=line.order.tax_included),
        )
        for line, quantity, price in lines
    ]
    bill = Bill(rows, delivery, tax, _NONE, tax_included, tax_recovered)
    return Bill(rows, delivery, tax, bill.added_up if total is None else total, tax_included, tax_recovered)


def expected_tax(bill: Bill, currency: str) -> Decimal:
    """By the percent of each line, rounded line by line."""
    work = tax_within if bill.tax_included else line_tax
    return sum((work(line.total, line.tax_percent, currency) for line in bill.lines), _NONE)


@dataclass(frozen=True)
class InvoiceFigures:
    """Coins: what the parts of an invoice add up to, what its total has ``beyond`` that, and what it costs."""

    added_up: Decimal
    beyond: Decimal
    cost: Decimal


def figures_of(invoice: Invoice) -> InvoiceFigures:
    added = invoice.goods + invoice.delivery + (_NONE if invoice.tax_included else invoice.tax)
    cost = invoice.total - (invoice.tax if invoice.tax_recovered else _NONE)
    return InvoiceFigures(added, invoice.total - added, cost)
