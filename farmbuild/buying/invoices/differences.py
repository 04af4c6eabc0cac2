"""An invoice held against its order and its receipts, in sentences, line by line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from farmbuild.buying.landing.bridge import InvoiceFigures, figures_of
from farmbuild.buying.models import Invoice, InvoiceLine, PurchaseOrder, PurchaseOrderLine
from farmbuild.measure import count_noun, format_count, format_money, line_total

#: What a list says in a word.
SHORT = (("more_billed", "pieces"), ("price_off", "price"), ("total_off", "total"), ("tax_off", "tax"))


def short_words(invoice: Invoice) -> str:
    """Of a row of ``invoices_of``: pieces, price."""
    return ", ".join(word for name, word in SHORT if getattr(invoice, name))


def pieces_words(lines: Iterable[PurchaseOrderLine]) -> Iterator[str]:
    """Of rows of ``charged_lines``: what was billed more than came."""
    for line in lines:
        if line.billed > line.charged:
            yield (
                f"Line {line.position}, {line.description}: {count_noun(line.billed, 'piece')} billed,"
                f" {format_count(line.charged)} came and not credited."
                f" {format_count(line.billed - line.charged)} too many."
            )


def unbilled_words(lines: Iterable[PurchaseOrderLine]) -> Iterator[str]:
    for line in lines:
        if line.charged > line.billed:
            yield (
                f"Line {line.position}, {line.description}: {format_count(line.charged - line.billed)} of"
                f" {count_noun(line.charged, 'piece')} not billed yet."
            )


def price_words(lines: Iterable[InvoiceLine], currency: str) -> Iterator[str]:
    """Of rows of ``standing_lines`` or ``invoice_lines_of`` an invoice."""
    for row in lines:
        line = row.order_line
        if row.unit_price == line.price_now:
            continue
        asked = "ordered at" if line.confirmed_price is None else "confirmed at"
        more = row.line_total - line_total(row.quantity, line.price_now, currency)
        since = f" {format_money(row.credited, currency)} of the line is credited." if row.credited else ""
        yield (
            f"Line {line.position}, {line.description}: {format_money(row.unit_price, currency)} billed for one,"
            f" {asked} {format_money(line.price_now, currency)}. {_more(more, currency)}{since}"
        )


def sums_words(invoice: Invoice) -> Iterator[str]:
    """Total and tax of one invoice."""
    found: InvoiceFigures = figures_of(invoice)
    done, way = ("billed", 1) if invoice.credits_id is None else ("credited", -1)
    if invoice.total_off:
        yield (
            f"Total: {format_money(invoice.to_pay, invoice.currency)} {done}, and its parts add up to"
            f" {format_money(way * found.added_up, invoice.currency)}. {_more(way * found.beyond, invoice.currency)}"
        )
    if invoice.tax_off:
        yield (
            f"Tax: {format_money(way * invoice.tax, invoice.currency)} {done},"
            f" {format_money(way * invoice.tax_expected, invoice.currency)} by the percent of its lines."
        )


def delivery_words(order: PurchaseOrder, invoices: Sequence[Invoice]) -> Iterator[str]:
    billed = sum(invoice.delivery for invoice in invoices if invoice.reversed_at is None)
    if billed > order.delivery:
        yield (
            f"Delivery: {format_money(billed, order.currency)} billed,"
            f" {format_money(order.delivery, order.currency)} ordered."
        )


def _more(amount: object, currency: str) -> str:
    way = "more" if amount > 0 else "less"
    return f"{format_money(abs(amount), currency)} {way}."
