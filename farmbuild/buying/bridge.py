"""What the planner says to buy, as fields of purchase orders and their lines; what is to come, for the planner."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from farmbuild.buying.incoming import line_name
from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.measure import line_tax, line_total
from farmbuild.planning.inputs import Lot
from farmbuild.planning.results import Order, OrderLine


def numbered(orders: Iterable[Order], plan_number: int) -> dict[str, Order]:
    """The plan's number and a counter, in the order of supplier codes: 7-1, 7-2."""
    in_order = sorted(orders, key=lambda order: order.supplier)
    return {f"{plan_number}-{count}": order for count, order in enumerate(in_order, start=1)}


def planned_number(number: str) -> str:
    """The number under which the plan has the order: 7-1 also of 7-1-2, its second after the first was cancelled."""
    return "-".join(number.split("-")[:2])


def order_fields(order: Order) -> dict[str, Any]:
    names = ("order_by", "need_by", "goods", "delivery", "tax", "total")
    return {name: getattr(order, name) for name in names}


def line_fields(line: OrderLine) -> dict[str, Any]:
    names = (
        "description",
        "supplier_code",
        "length",
        "needed",
        "pack",
        "quantity",
        "unit_price",
        "line_total",
        "tax",
        "need_by",
        "late_days",
    )
    return {name: getattr(line, name) for name in names}


def goods_and_tax(
    lines: Iterable[tuple[int, Decimal]], *, tax_percent: Decimal, currency: str
) -> tuple[Decimal, Decimal]:
    """Sums over lines of quantity and price, rounded line by line as the planner does."""
    totals = [line_total(quantity, price, currency) for quantity, price in lines]
    taxes = [line_tax(total, tax_percent, currency) for total in totals]
    return sum(totals, Decimal(0)), sum(taxes, Decimal(0))


def incoming_lot(line: PurchaseOrderLine, quantity: int, *, as_of: date) -> Lot:
    """``quantity`` pieces of what is to come as a planning lot, at the price of the order.

    What should have come before ``as_of`` may come on that day.
    """
    due = line.due_on
    return Lot(
        ref=line_name(line),
        material=line.material.code,
        length=line.length,
        quantity=quantity,
        unit_cost=line.price_now,
        place=f"on order, due {due.day} {due:%B %Y}",
        available_from=max(due, as_of),
    )
