"""An invoice held against its order and its receipts, in sentences, line by line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.landing.bridge import InvoiceFigures, figures_of
from farmbuild.buying.models import Invoice, InvoiceLine, PurchaseOrder, PurchaseOrderLine
from farmbuild.common.speaking import said_count
from farmbuild.measure import format_count, format_money, line_total

#: What a list says in a word.
SHORT = (
    ("more_billed", gettext_lazy("pieces")),
    ("price_off", gettext_lazy("price")),
    ("total_off", gettext_lazy("total")),
    ("tax_off", gettext_lazy("tax")),
)


def short_words(invoice: Invoice) -> str:
    """Of a row of ``invoices_of``: pieces, price."""
    return ", ".join(str(word) for name, word in SHORT if getattr(invoice, name))


def pieces_words(lines: Iterable[PurchaseOrderLine]) -> Iterator[str]:
    """Of rows of ``charged_lines``: what was billed more than came."""
    for line in lines:
        if line.billed > line.charged:
            yield (
                gettext(
                    "Line %(position)s, %(description)s: %(billed)s billed, %(charged)s came and not credited. "
                    "%(value)s too many."
                )
                % {
                    "position": line.position,
                    "description": line.description,
                    "billed": said_count(line.billed, "piece"),
                    "charged": format_count(line.charged),
                    "value": format_count(line.billed - line.charged),
                }
            )


def unbilled_words(lines: Iterable[PurchaseOrderLine]) -> Iterator[str]:
    for line in lines:
        if line.charged > line.billed:
            yield (
                gettext("Line %(position)s, %(description)s: %(value)s of %(charged)s not billed yet.")
                % {
                    "position": line.position,
                    "description": line.description,
                    "value": format_count(line.charged - line.billed),
                    "charged": said_count(line.charged, "piece"),
                }
            )


def price_words(lines: Iterable[InvoiceLine], currency: str) -> Iterator[str]:
    """Of rows of ``standing_lines`` or ``invoice_lines_of`` an invoice."""
    for row in lines:
        line = row.order_line
        if row.unit_price == line.price_now:
            continue
        asked = gettext("ordered at") if line.confirmed_price is None else gettext("confirmed at")
        more = row.line_total - line_total(row.quantity, line.price_now, currency)
        since = (
            gettext(" %(credited)s of the line is credited.") % {"credited": format_money(row.credited, currency)}
            if row.credited
            else ""
        )
        yield (
            gettext(
                "Line %(position)s, %(description)s: %(unit_price)s billed for one, %(asked)s %(price_now)s. "
                "%(more)s%(since)s"
            )
            % {
                "position": line.position,
                "description": line.description,
                "unit_price": format_money(row.unit_price, currency),
                "asked": asked,
                "price_now": format_money(line.price_now, currency),
                "more": _more(more, currency),
                "since": since,
            }
        )


def sums_words(invoice: Invoice) -> Iterator[str]:
    """Total and tax of one invoice."""
    found: InvoiceFigures = figures_of(invoice)
    done, way = (gettext("billed"), 1) if invoice.credits_id is None else (gettext("credited"), -1)
    if invoice.total_off:
        yield (
            gettext("Total: %(to_pay)s %(done)s, and its parts add up to %(value)s. %(more)s")
            % {
                "to_pay": format_money(invoice.to_pay, invoice.currency),
                "done": done,
                "value": format_money(way * found.added_up, invoice.currency),
                "more": _more(way * found.beyond, invoice.currency),
            }
        )
    if invoice.tax_off:
        yield (
            gettext("Tax: %(value)s %(done)s, %(value2)s by the percent of its lines.")
            % {
                "value": format_money(way * invoice.tax, invoice.currency),
                "done": done,
                "value2": format_money(way * invoice.tax_expected, invoice.currency),
            }
        )


def delivery_words(order: PurchaseOrder, invoices: Sequence[Invoice]) -> Iterator[str]:
    billed = sum(invoice.delivery for invoice in invoices if invoice.reversed_at is None)
    if billed > order.delivery:
        yield (
            gettext("Delivery: %(billed)s billed, %(delivery)s ordered.")
            % {"billed": format_money(billed, order.currency), "delivery": format_money(order.delivery, order.currency)}
        )


def _more(amount: object, currency: str) -> str:
    words = gettext("%(amount)s more.") if amount > 0 else gettext("%(amount)s less.")
    return words % {"amount": format_money(abs(amount), currency)}
