"""Invoices and what goods cost that came, for the accountant: plain text in rows, by period."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal

from django.utils import timezone

from farmbuild.buying.landing.bridge import figures_of
from farmbuild.buying.models import CostAdjustment, Invoice, ReceiptLine
from farmbuild.measure import places
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.plain_text import Cell, csv_bytes


def _within(day: date, since: date | None, until: date | None) -> bool:
    return (since is None or since <= day) and (until is None or day <= until)


def invoice_rows(*, organisation: Organisation, since: date | None, until: date | None) -> Iterator[list[Cell]]:
    """The heading, then a row an invoice or credit note on its date, and its opposite on the day of its reversal."""
    yield [
        *("Date", "Supplier", "Invoice", "Order", "Kind", "Currency", "Goods", "Delivery", "Tax", "Total"),
        *("Tax within the prices", "Tax recovered", "Cost", "Reason", "Recorded by"),
    ]
    zone = zone_of(organisation=organisation)
    rows = Invoice.objects.of(organisation).select_related("order", "supplier", "by", "reversed_by")
    found: list[tuple[date, int, list[Cell]]] = []
    for row in rows.order_by("pk").iterator(2000):
        amounts = [row.goods, row.delivery, row.tax, row.total]
        cost = figures_of(row).cost
        flags = [row.tax_included, row.tax_recovered]
        head = [row.supplier.name, row.number, row.order.number]
        if _within(row.invoiced_on, since, until):
            who = row.by.display_name if row.by else ""
            cells = [
                row.invoiced_on,
                *head,
                "Invoice" if row.credits_id is None else "Credit note",
                row.currency,
                *amounts,
                *flags,
                cost,
                "",
                who,
            ]
            found.append((row.invoiced_on, row.pk, cells))
        back = row.reversed_at and timezone.localdate(row.reversed_at, zone)
        if back and _within(back, since, until):
            who = row.reversed_by.display_name if row.reversed_by else ""
            taken = [-amount for amount in amounts]
            cells = [back, *head, "Reversal", row.currency, *taken, *flags, -cost, row.reverse_reason, who]
            found.append((back, row.pk, cells))
    yield from (cells for *_, cells in sorted(found, key=lambda one: one[:2]))


def received_rows(*, organisation: Organisation, since: date | None, until: date | None) -> Iterator[list[Cell]]:
    """The heading, then a row a line of a receipt on its day, and one an adjustment on the day it was booked."""
    yield [
        *("Date", "Supplier", "Order", "Receipt", "Kind", "Item", "Lot", "Pieces whole", "Pieces damaged"),
        *("Currency", "Landed cost", "General expense", "Reason"),
    ]
    zone = zone_of(organisation=organisation)
    related = ("receipt__order__supplier", "order_line", "lot")
    lines = ReceiptLine.objects.filter(receipt__organisation=organisation).select_related(*related)
    found: list[tuple[date, int, int, list[Cell]]] = []
    for row in lines.order_by("pk").iterator(2000):
        day = row.receipt.received_on
        if _within(day, since, until):
            kind = "Reversal" if row.receipt.reverses_id else "Receipt"
            cells = [
                *_head(row, day, kind),
                *(row.good, row.damaged, row.receipt.order.currency),
                *(row.amount, row.expense, row.receipt.reason),
            ]
            found.append((day, 0, row.pk, cells))
    made = CostAdjustment.objects.filter(receipt_line__receipt__organisation=organisation)
    made = made.select_related(*(f"receipt_line__{name}" for name in related))
    for row in made.order_by("pk").iterator(2000):
        day = timezone.localdate(row.at, zone)
        if _within(day, since, until):
            line = row.receipt_line
            cells = [
                *_head(line, day, "Adjustment"),
                *(0, 0, line.receipt.order.currency, row.amount, row.expense, row.reason),
            ]
            found.append((day, 1, row.pk, cells))
    yield from (cells for *_, cells in sorted(found, key=lambda one: one[:3]))


def _head(row: ReceiptLine, day: date, kind: str) -> list[Cell]:
    order = row.receipt.order
    lot = row.lot.reference if row.lot else ""
    return [day, order.supplier.name, order.number, row.receipt.number, kind, row.order_line.description, lot]


def csv_text(rows: Iterable[list[Cell]], *, currency: str) -> bytes:
    """Amounts with the decimals of the currency."""
    coin = Decimal(1).scaleb(-places(currency))
    return csv_bytes([cell.quantize(coin) if isinstance(cell, Decimal) else cell for cell in row] for row in rows)
