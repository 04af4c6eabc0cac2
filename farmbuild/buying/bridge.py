"""What the planner says to buy, as fields of purchase orders and their lines."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from farmbuild.planning.results import Order, OrderLine


def in_number_order(orders: Iterable[Order]) -> list[Order]:
    """By the supplier's code, so that the same plan numbers its orders the same way."""
    return sorted(orders, key=lambda order: order.supplier)


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
