"""Holds for reading."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext

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
        return gettext("lot %(lot)s at %(place)s") % {"lot": row.lot, "place": row.lot.place}
    line = row.order_line
    words = (
        gettext("order %(order)s line %(line)s, not sent yet, wanted for %(day)s")
        if line.order.state == "draft"
        else gettext("order %(order)s line %(line)s, on order, due %(day)s")
    ) % {"order": line.order, "line": line.position, "day": day(line.due_on)}
    return gettext("%(due)s, to %(site)s") % {"due": words, "site": line.delivery_site} if line.delivery_site else words


def for_whom(row: Reservation) -> str:
    """North 1, and pieces for Creek 1."""
    others = sorted({piece.house.name for piece in row.pieces.all() if piece.house_id != row.house_id})
    if not others:
        return row.house.name
    return gettext("%(house)s, and pieces for %(others)s") % {"house": row.house.name, "others": ", ".join(others)}
