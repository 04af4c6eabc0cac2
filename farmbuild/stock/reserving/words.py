"""Holds for reading."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.catalogue.models import Material
from farmbuild.common.templatetags.farm import day
from farmbuild.stock.models import Reservation


def material_of(row: Reservation) -> Material:
    return (row.lot or row.order_line).material


def length_of(row: Reservation) -> Decimal | None:
    return (row.lot or row.order_line).length


def where(row: Reservation) -> str:
    """Lot L-0001 at Barn rack; order 7-1 line 3, due 3 May 2027, to Creek."""
    if row.lot:
        return f"lot {row.lot} at {row.lot.place}"
    line = row.order_line
    state = "not sent yet, wanted for" if line.order.state == "draft" else "on order, due"
    to = f", to {line.delivery_site}" if line.delivery_site else ""
    return f"order {line.order} line {line.position}, {state} {day(line.due_on)}{to}"


def for_whom(row: Reservation) -> str:
    """North 1, and pieces for Creek 1."""
    others = sorted({piece.house.name for piece in row.pieces.all() if piece.house_id != row.house_id})
    return f"{row.house.name}, and pieces for {', '.join(others)}" if others else row.house.name
