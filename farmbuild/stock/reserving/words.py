"""Holds for reading."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from farmbuild.catalogue.models import Material
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import count_noun
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.swapping import ready_on
from farmbuild.stock.words import noun_of


def material_of(row: Reservation) -> Material:
    return (row.lot or row.order_line).material


def length_of(row: Reservation) -> Decimal | None:
    return (row.lot or row.order_line).length


def things(row: Reservation, count: int | None = None) -> str:
    """3 sticks of 1-3/8 rail; the length stands beside it."""
    offcut = bool(row.lot and row.lot.offcut)
    quantity = row.quantity if count is None else count
    return f"{count_noun(quantity, noun_of(material_of(row), offcut=offcut))} of {material_of(row)}"


def where(row: Reservation) -> str:
    """Lot L-0001 at Barn rack; order 7-1 line 3, due 3 May 2027."""
    if row.lot:
        return f"lot {row.lot} at {row.lot.place}"
    state = "not sent yet, wanted for" if row.order_line.order.state == "draft" else "on its way, due"
    return f"order {row.order_line.order} line {row.order_line.position}, {state} {day(ready_on(row))}"


def for_whom(row: Reservation) -> str:
    """North 1, and pieces for Creek 1."""
    others = sorted({piece.house.name for piece in row.pieces.all() if piece.house_id != row.house_id})
    return f"{row.house.name}, and pieces for {', '.join(others)}" if others else row.house.name


def there(when: date | None) -> str:
    return "in the yard now" if when is None else f"due {day(when)}"
