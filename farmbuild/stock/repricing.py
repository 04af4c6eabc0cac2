"""What was received costs another amount than was thought: who has the pieces by now, and what lies there repriced."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db.models import F, Sum

from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.bridge import share_out
from farmbuild.stock.costing import books_of, cost_of_one
from farmbuild.stock.models import CostShare, CutPiece, Lot, Movement, Repricing
from farmbuild.stock.services import lock_references

_NONE = Decimal(0)
#: Keys of a house and of a job, of which one is None, or both for nobody by name.
Bearer = tuple[int | None, int | None]
NOBODY: Bearer = (None, None)
#: Moved and cut so many times; what went further than that is a general expense.
_DEEPEST = 20
#: Pieces that are away and borne by nobody here.
_AWAY = (Movement.Kind.LEND, Movement.Kind.GIVEN_BACK)


@dataclass
class Spread:
    """Where an amount of a received lot belongs by now, in coins: lots on hand, and who bears it.

    ``members``: what members of a cooperative bear, who were handed pieces out.
    """

    on_hand: dict[int, Decimal] = field(default_factory=dict)
    borne: dict[Bearer, Decimal] = field(default_factory=dict)
    members: Decimal = _NONE


def spread_of(*, amounts: Mapping[int, Decimal], currency: str) -> dict[int, Spread]:
    """``amounts``: key of the received lot to a signed amount in coins; each is shared out by pieces.

    Pieces that were moved or cut are followed into their lots; what is lent, scrapped or missing is borne by nobody.
    Seven queries a step of moving and cutting, however many lots.
    """
    found = {lot: Spread() for lot in amounts}
    going = {(lot, lot): amount for lot, amount in amounts.items() if amount}
    for _ in range(_DEEPEST):
        if not going:
            return found
        parts = _parts_of({lot for _, lot in going})
        further: dict[tuple[int, int], Decimal] = {}
        for (origin, lot), amount in going.items():
            where = parts[lot]
            for (kind, key), share in zip(where, share_out(amount, list(where.values()), currency), strict=True):
                if kind == "lot":
                    further[origin, key] = further.get((origin, key), _NONE) + share
                elif kind == "members":
                    found[origin].members += share
                else:
                    into = found[origin].on_hand if kind == "here" else found[origin].borne
                    into[key] = into.get(key, _NONE) + share
        going = {place: amount for place, amount in further.items() if amount}
    for (origin, _), amount in going.items():
        found[origin].borne[NOBODY] = found[origin].borne.get(NOBODY, _NONE) + amount
    return found


def _parts_of(lots: set[int]) -> dict[int, dict[tuple[str, Any], Decimal]]:
    """Of each lot its pieces by where they are: here, borne by somebody or nobody, in another lot."""
    parts: dict[int, dict[tuple[str, Any], Decimal]] = {lot: {} for lot in lots}

    def add(lot: int, kind: str, key: Any, pieces: Decimal) -> None:
        if pieces > 0:
            parts[lot][kind, key] = parts[lot].get((kind, key), _NONE) + pieces

    for lot, pieces in Lot.objects.filter(pk__in=lots).order_by("pk").values_list("pk", "on_hand"):
        add(lot, "here", lot, Decimal(pieces))
    borne = CostShare.objects.filter(movement__lot__in=lots).order_by("movement__lot", "house", "job")
    sums = borne.values_list("movement__lot", "house", "job").annotate(sum=Sum("quantity"))
    for lot, house, job, pieces in sums:
        add(lot, "borne", (house, job), pieces)
    moved = Movement.objects.filter(moved_from__lot__in=lots, reverses=None, reversed_by=None).order_by("pk")
    for lot, into, pieces in moved.values_list("moved_from__lot", "lot", "quantity"):
        add(lot, "lot", into, Decimal(pieces))
    _add_cuts(lots, add)
    lent = Movement.objects.filter(lot__in=lots, kind__in=_AWAY)
    for lot, pieces in lent.order_by().values_list("lot").annotate(sum=Sum("quantity")):
        add(lot, "borne", NOBODY, Decimal(-pieces))
    handed = Movement.objects.filter(lot__in=lots, kind=Movement.Kind.HANDED_OUT)
    for lot, pieces in handed.order_by().values_list("lot").annotate(sum=Sum("quantity")):
        add(lot, "members", None, Decimal(-pieces))
    for where in parts.values():
        if not where:
            where["borne", NOBODY] = Decimal(1)
    return parts


def _add_cuts(lots: Iterable[int], add) -> None:
    """Sticks that were cut are in the lots of their pieces, by length."""
    cuts = Movement.objects.filter(lot__in=lots, kind=Movement.Kind.CUT, quantity__lt=0, reverses=None)
    sticks = {cut: -pieces for cut, pieces in cuts.filter(reversed_by=None).values_list("cut", "quantity")}
    rows = list(
        CutPiece.objects.filter(cut__in=sticks, cut__lot__in=lots)
        .order_by("pk")
        .annotate(whole=F("each") * F("length_nm"))
        .values_list("cut", "cut__lot", "lot", "whole")
    )
    lengths: dict[int, int] = {}
    for cut, _, _, whole in rows:
        lengths[cut] = lengths.get(cut, 0) + whole
    for cut, lot, into, whole in rows:
        add(lot, "lot", into, Decimal(sticks[cut]) * whole / lengths[cut])


def reprice_by(
    *, organisation: Organisation, user: User | None, amounts: Mapping[int, Decimal], reason: str
) -> dict[int, Decimal]:
    """Lots with pieces on hand are worth so many coins more or, below zero, fewer, from now on.

    Gives by lot what could not be taken off it, because it is not worth as much: below zero. In the caller's
    transaction, which holds no lots that come later by key.
    """
    wanted = {lot: amount for lot, amount in amounts.items() if amount}
    if not wanted:
        return {}
    lock_references(organisation=organisation)
    lots = list(Lot.objects.of(organisation).select_for_update().filter(pk__in=wanted).order_by("pk"))
    books, rows, left = books_of([lot.pk for lot in lots]), [], {}
    for lot in lots:
        there = books[lot.pk]
        amount = max(wanted[lot.pk], -there.value) if there.pieces else _NONE
        if amount != wanted[lot.pk]:
            left[lot.pk] = wanted[lot.pk] - amount
        if not amount:
            continue
        lot.basis_value, lot.basis_pieces = there.value + amount, there.pieces
        lot.unit_cost = cost_of_one(lot.basis_value, there.pieces)
        rows.append(
            Repricing(
                lot=lot,
                pieces=there.pieces,
                old_cost=there.unit_cost,
                new_cost=lot.unit_cost,
                amount=amount,
                reason=reason[:200],
                by=user,
            )
        )
    Repricing.objects.bulk_create(rows)
    changed = [row.lot for row in rows]
    Lot.objects.bulk_update(changed, ["unit_cost", "basis_value", "basis_pieces"], batch_size=500)
    return left
