"""What pages show of invoices, gathered once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.buying.invoices import selectors
from farmbuild.buying.invoices.differences import (
    delivery_words,
    pieces_words,
    price_words,
    sums_words,
    unbilled_words,
)
from farmbuild.buying.landing.bridge import figures_of
from farmbuild.buying.models import Invoice, PurchaseOrder, PurchaseOrderLine

#: Sentences of one kind that a page says; of the rest it says how many there are.
MOST = 8


@dataclass(frozen=True)
class Billing:
    """``differences``: sentences; ``more`` further ones are not said. ``stock`` and ``expense``: what came, landed."""

    invoices: Sequence[Invoice]
    differences: Sequence[str]
    more: int
    unbilled: Sequence[str]
    more_unbilled: int
    stock: Decimal
    expense: Decimal


def billing_of(*, order: PurchaseOrder) -> Billing:
    """What was billed of an order that went out, against what came; as many queries for 500 lines as for five."""
    invoices = list(selectors.invoices_of(organisation=order.organisation).filter(order=order).order_by("position"))
    standing = [invoice for invoice in invoices if invoice.reversed_at is None]
    lines = list(selectors.charged_lines(order=order)) if standing else []
    found = list(pieces_words(lines))
    found += price_words(selectors.standing_lines(order=order) if standing else (), order.currency)
    found += [words for invoice in standing for words in sums_words(invoice)]
    found += delivery_words(order, standing)
    unbilled = list(unbilled_words(lines))
    stock, expense = selectors.received_cost_of(order=order)
    return Billing(
        invoices,
        found[:MOST],
        len(found[MOST:]),
        unbilled[:MOST],
        len(unbilled[MOST:]),
        stock,
        expense,
    )


@dataclass(frozen=True)
class InvoicePage:
    """``cost``: what it adds to the cost of goods; ``differences`` of this invoice, in sentences; ``credits``: notes
    that take part of it back."""

    cost: Decimal
    differences: Sequence[str]
    more: int
    credits: Iterable[Invoice]


def invoice_page(*, invoice: Invoice) -> InvoicePage:
    lines = list(selectors.invoice_lines_of(invoice=invoice))
    found: list[str] = []
    if invoice.credits_id is None:
        if invoice.reversed_at is None:
            mine = {row.order_line_id for row in lines if row.quantity}
            found += pieces_words(_mine(selectors.charged_lines(order=invoice.order), mine))
        found += price_words(lines, invoice.currency)
    found += sums_words(invoice)
    notes = selectors.credits_of(invoice=invoice)
    return InvoicePage(figures_of(invoice).cost, found[:MOST], len(found[MOST:]), notes)


def _mine(lines: Sequence[PurchaseOrderLine], keys: set[int]) -> list[PurchaseOrderLine]:
    return [line for line in lines if line.pk in keys]


def unbilled_pieces(lines: Sequence[PurchaseOrderLine]) -> dict[int, int]:
    """By line of ``charged_lines`` what came and is on no invoice."""
    return {line.pk: line.charged - line.billed for line in lines}
