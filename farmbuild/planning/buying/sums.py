"""What an order comes to and by when it goes out: one rule for planned orders and for those made by hand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.measure.money import line_tax, line_total, round_money, tax_within
from farmbuild.planning.inputs import Supplier


@dataclass(frozen=True)
class LineSums:
    """``total``: pieces times price, with the tax in it where prices include it; both rounded half up at the line."""

    total: Decimal
    tax: Decimal


@dataclass(frozen=True)
class OrderSums:
    goods: Decimal
    delivery: Decimal
    tax: Decimal
    tax_included: bool = False

    @property
    def total(self) -> Decimal:
        return self.goods + self.delivery + (Decimal(0) if self.tax_included else self.tax)


def line_sums(
    quantity: int, unit_price: Decimal, *, tax_percent: Decimal, currency: str, tax_included: bool = False
) -> LineSums:
    total = line_total(quantity, unit_price, currency)
    return LineSums(total, (tax_within if tax_included else line_tax)(total, tax_percent, currency))


def order_sums(
    lines: Iterable[LineSums], supplier: Supplier, *, currency: str, tax_included: bool = False
) -> OrderSums:
    """Goods and tax as summed over lines, and one delivery charge unless goods reach the free level.

    An order without lines costs nothing.
    """
    found = tuple(lines)
    goods = sum((line.total for line in found), Decimal(0))
    free = not found or (supplier.free_delivery_from is not None and goods >= supplier.free_delivery_from)
    delivery = Decimal(0) if free else round_money(supplier.delivery_charge, currency)
    return OrderSums(goods, delivery, sum((line.tax for line in found), Decimal(0)), tax_included)


@dataclass(frozen=True)
class LineDays:
    """When a line is wanted, and what is known of its offer: days of delivery, and the last day that it holds.

    ``lead_days`` None: nobody has said.
    """

    need_by: date
    lead_days: int | None = None
    valid_until: date | None = None

    def late_days(self, ordered_on: date) -> int:
        """Days that it comes after it is wanted, as far as that is known."""
        if self.lead_days is None:
            return 0
        return max(0, (ordered_on + timedelta(days=self.lead_days) - self.need_by).days)


def order_by(lines: Iterable[LineDays], as_of: date) -> date:
    """The last day on which every line still comes in time by an offer that still holds; ``as_of`` at the soonest.

    What takes nobody knows how long goes out at once: no later day is safe.
    """
    last: list[date] = []
    for line in lines:
        last.append(as_of if line.lead_days is None else line.need_by - timedelta(days=line.lead_days))
        if line.valid_until is not None:
            last.append(line.valid_until)
    return max(as_of, min(last, default=as_of))
