"""Holds for reading, on the pages that change them."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.words import material_of
from farmbuild.stock.words import noun_of


def things(row: Reservation, count: int | None = None) -> str:
    """3 sticks of 1-3/8 rail; the length stands beside it."""
    offcut = bool(row.lot and row.lot.offcut)
    quantity = row.quantity if count is None else count
    pieces = said_count(quantity, noun_of(material_of(row), offcut=offcut))
    return gettext("%(pieces)s of %(what)s") % {"pieces": pieces, "what": material_of(row)}


def there(when: date | None) -> str:
    return gettext("in the yard now") if when is None else gettext("due %(day)s") % {"day": day(when)}
