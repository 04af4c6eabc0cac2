"""Holds for reading, on the pages that change them."""

from __future__ import annotations

from datetime import date

from farmbuild.common.templatetags.farm import day
from farmbuild.measure import count_noun
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.words import material_of
from farmbuild.stock.words import noun_of


def things(row: Reservation, count: int | None = None) -> str:
    """3 sticks of 1-3/8 rail; the length stands beside it."""
    offcut = bool(row.lot and row.lot.offcut)
    quantity = row.quantity if count is None else count
    return f"{count_noun(quantity, noun_of(material_of(row), offcut=offcut))} of {material_of(row)}"


def there(when: date | None) -> str:
    return "in the yard now" if when is None else f"due {day(when)}"
