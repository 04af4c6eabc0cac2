"""Holds on lots are made and moved. Whoever calls keeps the plan and its houses in step.

Locks are taken in one order everywhere: the organisation, orders, lot numbers, lots by key, order lines by key.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from farmbuild.sites.models import House
from farmbuild.stock.models import HeldPiece, Lot, Reservation
from farmbuild.stock.reserving.consuming import reduce_reservation

_AT_ONCE = 500


@dataclass(frozen=True)
class ReservedPiece:
    """``each`` pieces of ``length`` mm out of every held stick, for one purpose of one house."""

    house: int
    purpose: str
    length: Decimal
    each: int


@dataclass(frozen=True)
class NewReservation:
    """So many of a lot, or of an order line, for a house. ``pieces``: what each stick is cut into, () for whole."""

    quantity: int
    house: int
    purpose: str
    need_by: date
    lot: int | None = None
    line: int | None = None
    pieces: tuple[ReservedPiece, ...] = ()


def locked_by_key(rows: QuerySet, keys: Iterable[int]) -> dict[int, Any]:
    """Those of ``rows`` by key, locked in the order of their keys until the transaction ends."""
    ordered = sorted(set(keys))
    found: dict[int, Any] = {}
    for start in range(0, len(ordered), _AT_ONCE):
        some = rows.select_for_update(no_key=True).filter(pk__in=ordered[start : start + _AT_ONCE]).order_by("pk")
        found |= {row.pk: row for row in some}
    return found


def lock_lots(keys: Iterable[int]) -> dict[int, Lot]:
    return locked_by_key(Lot.objects.all(), keys)


def reserve(*, organisation: int, plan: int, user: int | None, wanted: Sequence[NewReservation]) -> list[Reservation]:
    """Store the holds, all by key; the caller has locked what they hold and knows that it is free."""
    rows = Reservation.objects.bulk_create(
        [
            Reservation(
                organisation_id=organisation,
                plan_id=plan,
                house_id=one.house,
                lot_id=one.lot,
                order_line_id=one.line,
                purpose=one.purpose[:120],
                quantity=one.quantity,
                need_by=one.need_by,
                made_by_id=user,
            )
            for one in wanted
        ],
        batch_size=_AT_ONCE,
    )
    HeldPiece.objects.bulk_create(
        [
            HeldPiece(
                reservation=row,
                house_id=piece.house,
                purpose=piece.purpose[:120],
                length=piece.length,
                each=piece.each,
            )
            for row, one in zip(rows, wanted, strict=True)
            for piece in one.pieces
        ],
        batch_size=_AT_ONCE,
    )
    return rows


def pieces_of(row: Reservation) -> tuple[ReservedPiece, ...]:
    return tuple(ReservedPiece(piece.house_id, piece.purpose, piece.length, piece.each) for piece in row.pieces.all())


@dataclass(frozen=True)
class DetachedReservation:
    """A hold that stands nowhere for a moment, by keys. ``line``: the order line that its lot came on, where asked."""

    organisation: int
    plan: int
    user: int | None
    wanted: NewReservation
    line: int | None = None

    @classmethod
    def of(cls, row: Reservation, quantity: int, line: int | None = None) -> DetachedReservation:
        wanted = NewReservation(quantity, row.house_id, row.purpose, row.need_by, pieces=pieces_of(row))
        return cls(row.organisation_id, row.plan_id, row.made_by_id, wanted, line)

    def attach(self, *, lot: int | None = None, line: int | None = None) -> None:
        wanted = replace(self.wanted, lot=lot, line=line)
        reserve(organisation=self.organisation, plan=self.plan, user=self.user, wanted=[wanted])


def detach_reservations(*, lot: Lot, house: House, quantity: int) -> list[DetachedReservation]:
    """Lift up to ``quantity`` of what the house holds of the lot, the first needed first."""
    rows = Reservation.objects.filter(lot=lot, house=house)
    lock_lots([lot.pk])
    lifted, left = [], quantity
    for row in rows.prefetch_related("pieces").order_by("need_by", "pk"):
        if left:
            lifted.append(DetachedReservation.of(row, min(row.quantity, left)))
            left -= reduce_reservation(row, left)
    return lifted


def attach_reservations(lifted: Sequence[DetachedReservation], *, lot: Lot) -> None:
    for one in lifted:
        one.attach(lot=lot.pk)


def give_to_first_house(row: Reservation) -> None:
    """A stick cut for several houses is held for the one that needs it first. ``pieces__house`` is loaded."""
    first = min(row.pieces.all(), key=lambda piece: (piece.house.need_date, piece.house.slug))
    row.house, row.purpose, row.need_by = first.house, first.purpose, first.house.need_date
    row.save(update_fields=["house", "purpose", "need_by"])


def update_need_dates(*, house: House) -> None:
    """The house's need date moved: what it holds is needed by the new day, and a shared stick by the first house."""
    Reservation.objects.filter(house=house, pieces=None).update(need_by=house.need_date)
    for row in Reservation.objects.filter(pieces__house=house).distinct().prefetch_related("pieces__house"):
        give_to_first_house(row)
