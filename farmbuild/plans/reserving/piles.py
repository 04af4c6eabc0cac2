"""What a house holds as piles: filled in the yard, dashed on order."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from django.db.models import QuerySet, Sum

from farmbuild.buying.models.orders import due_day
from farmbuild.catalogue.models import Material
from farmbuild.stock.models import Reservation
from farmbuild.stock.piles.selectors import MAX_OF_ONE, Coming, Pile, Piled, Rest, by_kind

_OF_LOT = ("lot__material", "lot__length", "lot__offcut")
_OF_LINE = ("order_line__material", "order_line__length")
_DUE = ("order_line__promised_on", "order_line__need_by", "order_line__late_days")


def held_piles(rows: QuerySet[Reservation]) -> list[Piled]:
    """By material and length, longest first, by two queries."""
    found = list(
        rows.select_related(None)
        .prefetch_related(None)
        .order_by()
        .values_list(*_OF_LOT, *_OF_LINE, *_DUE)
        .annotate(pieces=Sum("quantity"))
        .values_list(*_OF_LOT, *_OF_LINE, *_DUE, "pieces")
    )
    materials = Material.objects.in_bulk({row[0] or row[3] for row in found})
    piles: dict[tuple[int, bool, Decimal | None], Pile] = {}
    for lot, lot_length, offcut, line, line_length, promised, need, late, pieces in found:
        key = (lot or line, bool(offcut), lot_length if lot else line_length)
        pile = piles.get(key) or Pile(materials[key[0]], key[2], key[1], 0, 0)
        if lot:
            piles[key] = replace(pile, held=pile.held + pieces)
        else:
            piles[key] = replace(pile, coming=_with(pile.coming, key[0], key[2], pieces, due_day(promised, need, late)))
    return [
        _piled(one, [pile for pile in piles.values() if pile.material == one]) for one in by_kind(materials.values())
    ]


def _with(coming: Coming | None, material: int, length: Decimal | None, pieces: int, due: date) -> Coming:
    if coming is None:
        return Coming(material, length, pieces, due)
    more = coming.more or coming.due != due
    return replace(coming, pieces=coming.pieces + pieces, due=min(coming.due, due), more=more)


def _piled(material: Material, piles: list[Pile]) -> Piled:
    piles.sort(key=lambda pile: -(pile.length or Decimal(0)))
    whole, offcuts = ([pile for pile in piles if pile.offcut is cut] for cut in (False, True))
    rest = offcuts[MAX_OF_ONE:]
    more = Rest(len(rest), sum(pile.held for pile in rest)) if rest else None
    return Piled(material, tuple(whole), tuple(offcuts[:MAX_OF_ONE]), None, more)
