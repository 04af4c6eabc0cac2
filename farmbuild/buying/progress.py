"""Where an order stands, in words: what is still to come and for when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, F, Max, Min, Q, Sum

from farmbuild.buying.bridge import sums_of, tax_percent_of
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import still_to_come
from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_count, said_list
from farmbuild.measure import round_money
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


@dataclass(frozen=True)
class TaxPart:
    """The lines of an order that are taxed alike, as their totals stand there."""

    percent: Decimal
    goods: Decimal
    tax: Decimal


def taxes_of(*, order: PurchaseOrder) -> list[TaxPart]:
    """By percent, where there is more than one; each line rounded by itself, so the parts sum to the order's tax."""
    rows = order.lines.order_by().values("tax_percent").annotate(goods=Sum("line_total"), taxes=Sum("tax"))
    parts = [(row["tax_percent"], row["goods"], row["taxes"]) for row in rows]
    if len(parts) < 2:
        return []
    usual = tax_percent_of(order) if any(percent is None for percent, *_ in parts) else Decimal(0)
    return sorted(
        (
            TaxPart(
                (usual if percent is None else percent).normalize(),
                # SQLite sums them as binary fractions.
                round_money(goods, order.currency),
                round_money(tax, order.currency),
            )
            for percent, goods, tax in parts
        ),
        key=lambda part: -part.percent,
    )


def confirmed_totals(*, order: PurchaseOrder) -> ConfirmedTotals | None:
    """None where the supplier has said nothing about prices or quantities."""
    answered = Q(confirmed_price__isnull=False) | Q(confirmed_quantity__isnull=False)
    if not order.lines.filter(answered).exists():
        return None
    lines = order.lines.values_list("quantity", "unit_price", "confirmed_quantity", "confirmed_price", "tax_percent")
    sums = sums_of(
        order,
        [
            (quantity if now is None else now, price if agreed is None else agreed, percent)
            for quantity, price, now, agreed, percent in lines
        ],
    )
    return ConfirmedTotals(sums.goods, sums.tax, sums.total)


def _listed(counts: dict[str, int]) -> str:
    """60 sticks, 2 rolls and 400 pieces: things of one noun together."""
    nouns: dict[str, int] = {}
    for kind, count in counts.items():
        noun = noun_of(Material(kind=kind), offcut=False)
        nouns[noun] = nouns.get(noun, 0) + count
    return said_list(said_count(count, noun) for noun, count in nouns.items() if count)
