"""Where an order stands, in words: what is still to come and for when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, F, Max, Min, Q, Sum

from farmbuild.buying.bridge import goods_and_tax, tax_percent_of
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import still_to_come
from farmbuild.catalogue.models import Material
from farmbuild.measure import count_noun, join_words
from farmbuild.stock.words import noun_of


@dataclass(frozen=True)
class OrderProgress:
    """``to_come`` and ``arrived`` in words, "" for nothing. ``promised``: last day promised; ``unpromised`` lines."""

    to_come: str
    arrived: str
    damaged: int
    over: int
    short: int
    open_lines: int
    unpromised: int
    promised: date | None
    first_promised: date | None
    need_by: date | None


def progress_of(*, order: PurchaseOrder) -> OrderProgress:
    """Two queries, however many lines."""
    lines = order.lines.annotate(waited=still_to_come()).order_by()
    waiting, good = Q(waited__gt=0), F("arrived") - F("damaged")
    kinds = (
        lines.values("material__kind")
        .annotate(coming=Sum("waited"), came=Sum(good), broken=Sum("damaged"))
        .order_by("material__kind")
    )
    rows = list(kinds)
    sums = lines.aggregate(
        open_lines=Count("pk", filter=waiting),
        unpromised=Count("pk", filter=waiting & Q(promised_on__isnull=True)),
        promised=Max("promised_on", filter=waiting),
        first_promised=Min("promised_on", filter=waiting),
        need_by=Min("need_by", filter=waiting),
        over=Sum(good - F("quantity"), filter=Q(quantity__lt=good), default=0),
        short=Sum(F("quantity") - good, filter=Q(closed_at__isnull=False, quantity__gt=good), default=0),
    )
    return OrderProgress(
        to_come=_listed({row["material__kind"]: row["coming"] for row in rows}),
        arrived=_listed({row["material__kind"]: row["came"] for row in rows}),
        damaged=sum(row["broken"] for row in rows),
        **sums,
    )


@dataclass(frozen=True)
class ConfirmedTotals:
    """The order's sums as the supplier confirmed them; delivery is as ordered."""

    goods: Decimal
    tax: Decimal
    total: Decimal


def confirmed_totals(*, order: PurchaseOrder) -> ConfirmedTotals | None:
    """None where the supplier has said nothing about prices or quantities."""
    answered = Q(confirmed_price__isnull=False) | Q(confirmed_quantity__isnull=False)
    if not order.lines.filter(answered).exists():
        return None
    lines = order.lines.values_list("quantity", "unit_price", "confirmed_quantity", "confirmed_price")
    goods, tax = goods_and_tax(
        [
            (quantity if now is None else now, price if agreed is None else agreed)
            for quantity, price, now, agreed in lines
        ],
        tax_percent=tax_percent_of(order),
        currency=order.currency,
    )
    return ConfirmedTotals(goods, tax, goods + tax + order.delivery)


def _listed(counts: dict[str, int]) -> str:
    """60 sticks, 2 rolls and 400 pieces: things of one noun together."""
    nouns: dict[str, int] = {}
    for kind, count in counts.items():
        noun = noun_of(Material(kind=kind), offcut=False)
        nouns[noun] = nouns.get(noun, 0) + count
    return join_words(count_noun(count, noun) for noun, count in nouns.items() if count)
