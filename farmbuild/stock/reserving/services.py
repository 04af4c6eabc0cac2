"""Holds are made, passed on and let go. Whoever calls keeps the plan and its houses in step.

Locks are taken in one order everywhere: the organisation, orders, lot numbers, lots by key, order lines by key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.sites.models import House
from farmbuild.stock.models import HeldPiece, Lot, Reservation, UsedHold
from farmbuild.stock.reserving.consuming import lower

_AT_ONCE = 500


@dataclass(frozen=True)
class Piece:
    """``each`` pieces of ``length`` mm out of every held stick, for one purpose of one house."""

    house: int
    purpose: str
    length: Decimal
    each: int


@dataclass(frozen=True)
class Wanted:
    """So many of a lot, or of an order line, for a house. ``pieces``: what each stick is cut into, () for whole."""

    quantity: int
    house: int
    purpose: str
    need_by: date
    lot: int | None = None
    line: int | None = None
    pieces: tuple[Piece, ...] = ()


def lock_sources(*, lots: Iterable[int], lines: Iterable[int]) -> tuple[dict[int, Lot], dict[int, PurchaseOrderLine]]:
    """Lots and order lines by key, locked in the order of their keys until the transaction ends."""
    found: dict[int, Lot] = {}
    for some in _chunks(lots):
        rows = Lot.objects.select_for_update(no_key=True).filter(pk__in=some).order_by("pk")
        found |= {row.pk: row for row in rows}
    waited: dict[int, PurchaseOrderLine] = {}
    for some in _chunks(lines):
        rows = PurchaseOrderLine.objects.select_for_update(no_key=True).filter(pk__in=some).order_by("pk")
        waited |= {row.pk: row for row in rows}
    return found, waited


def _chunks(keys: Iterable[int]) -> Iterable[list[int]]:
    ordered = sorted(set(keys))
    return (ordered[start : start + _AT_ONCE] for start in range(0, len(ordered), _AT_ONCE))


def lock_what_is_held(rows: QuerySet[Reservation]) -> None:
    """Locks the lots and lines of these holds, and again where goods came in meanwhile and a hold moved."""
    before: set[tuple[int | None, int | None]] = set()
    while (keys := set(rows.order_by().values_list("lot", "order_line"))) != before:
        before = keys
        lock_sources(lots=[lot for lot, _ in keys if lot], lines=[line for _, line in keys if line])


def with_plan(rows: QuerySet[Reservation]) -> QuerySet[Reservation]:
    """With plan, but not its large snapshots, and who made the hold."""
    return rows.select_related("plan", "made_by").defer("plan__inputs", "plan__result")


def hold(*, plan: Plan, user: User | None, wanted: Sequence[Wanted]) -> list[Reservation]:
    """Store the holds; the caller has locked what they hold and knows that it is free."""
    rows = Reservation.objects.bulk_create(
        [
            Reservation(
                organisation_id=plan.organisation_id,
                plan=plan,
                house_id=one.house,
                lot_id=one.lot,
                order_line_id=one.line,
                purpose=one.purpose[:120],
                quantity=one.quantity,
                need_by=one.need_by,
                made_by=user,
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


def pieces_of(row: Reservation) -> tuple[Piece, ...]:
    return tuple(Piece(piece.house_id, piece.purpose, piece.length, piece.each) for piece in row.pieces.all())


def split(row: Reservation, quantity: int, *, lot: Lot | None = None, line: PurchaseOrderLine | None = None) -> int:
    """Make up to ``quantity`` of a reservation one of another lot or line; gives how many went over."""
    taken = min(row.quantity, quantity)
    if taken == row.quantity:
        row.lot, row.order_line = lot, line
        row.save(update_fields=["lot", "order_line"])
        return taken
    copy = Wanted(
        taken,
        row.house_id,
        row.purpose,
        row.need_by,
        lot=lot and lot.pk,
        line=line and line.pk,
        pieces=pieces_of(row),
    )
    lower(row, taken)
    hold(plan=row.plan, user=row.made_by, wanted=[copy])
    return taken


# A house lets go


@transaction.atomic
def let_go(*, plan: Plan, houses: Collection[int]) -> None:
    """The houses hold nothing of the plan any more.

    A stick that another house of the plan gets pieces of stays held for that house, uncut where these houses' pieces
    were.
    """
    own = Reservation.objects.filter(plan=plan, house__in=houses)
    lock_what_is_held(own)
    HeldPiece.objects.filter(reservation__plan=plan, house__in=houses).delete()
    others = HeldPiece.objects.filter(reservation=OuterRef("pk"))
    for row in own.filter(Exists(others)).prefetch_related("pieces__house"):
        first = min(row.pieces.all(), key=lambda piece: (piece.house.need_date, piece.house.slug))
        row.house, row.purpose, row.need_by = first.house, first.purpose, first.house.need_date
        row.save(update_fields=["house", "purpose", "need_by"])
    Reservation.objects.filter(plan=plan, house__in=houses).delete()


def let_go_of_lines(*, lines: Collection[int]) -> int:
    """Nothing more is to come on these order lines, so nobody holds it; gives how many pieces were held."""
    rows = Reservation.objects.filter(order_line__in=lines)
    lock_what_is_held(rows)
    held = sum(rows.values_list("quantity", flat=True))
    rows.delete()
    return held


def needed_by_another_day(*, house: House) -> None:
    """The house's need date moved: what it holds is needed by the new day, and a shared stick by the first house."""
    Reservation.objects.filter(house=house, pieces=None).update(need_by=house.need_date)
    for row in Reservation.objects.filter(pieces__house=house).distinct().prefetch_related("pieces__house"):
        first = min(row.pieces.all(), key=lambda piece: (piece.house.need_date, piece.house.slug))
        row.house, row.purpose, row.need_by = first.house, first.purpose, first.house.need_date
        row.save(update_fields=["house", "purpose", "need_by"])


# Goods come in, or go back


def pass_to_lots(*, arrived: Mapping[int, Lot]) -> None:
    """Goods of order lines are in these lots now: what was held of a line is held of its lot, by need date."""
    held = Reservation.objects.filter(order_line__in=list(arrived)).order_by("need_by", "pk")
    if not held.exists():
        return
    lock_sources(lots=(), lines=arrived)
    left = {line: lot.on_hand for line, lot in arrived.items()}
    for row in with_plan(held).prefetch_related("pieces"):
        line = row.order_line_id
        if left[line]:
            left[line] -= split(row, left[line], lot=arrived[line])


@dataclass(frozen=True)
class Lifted:
    """A hold that stands nowhere for a moment. ``line``: the order line that its lot came on, where that is asked."""

    plan: Plan
    user: User | None
    wanted: Wanted
    line: int | None = None

    def onto(self, *, lot: int | None = None, line: int | None = None) -> None:
        hold(plan=self.plan, user=self.user, wanted=[replace(self.wanted, lot=lot, line=line)])


def _lifted(row: Reservation, quantity: int, line: int | None = None) -> Lifted:
    wanted = Wanted(quantity, row.house_id, row.purpose, row.need_by, pieces=pieces_of(row))
    return Lifted(row.plan, row.made_by, wanted, line)


def lift(*, lots: Mapping[int, int]) -> list[Lifted]:
    """Take every hold off the lots, key of the lot to key of its order line, to be put back on the line."""
    rows = Reservation.objects.filter(lot__in=list(lots))
    lock_what_is_held(rows)
    found = with_plan(rows).prefetch_related("pieces").order_by("need_by", "pk")
    lifted = [_lifted(row, row.quantity, lots[row.lot_id]) for row in found]
    rows.delete()
    return lifted


def put_back(lifted: Sequence[Lifted]) -> None:
    """Holds on their order lines again. Raises ValidationError where more is held than is to come."""
    _, lines = lock_sources(lots=(), lines=[one.line for one in lifted if one.line])
    for line in lines.values():
        more = sum(one.wanted.quantity for one in lifted if one.line == line.pk) - (line.to_come - line.reserved)
        if more > 0:
            raise ValidationError(
                f"Houses hold {count_noun(more, 'piece')} more of what came on line {line.position} than was"
                " ordered, so the receipt cannot be reversed. Release these holds on the page of the lot first."
            )
    for one in lifted:
        one.onto(line=one.line)


# What was used comes back


def hold_again(*, lot: Lot, used: QuerySet[UsedHold], quantity: int, user: User | None) -> None:
    """Up to ``quantity`` pieces are back in the lot: houses that had held them hold them again, the last used first.

    Not for a house that its plan does not build any more.
    """
    wanted: list[tuple[Plan, Wanted]] = []
    # Held still, so that the houses are not let go of meanwhile.
    built = PlanHouse.objects.filter(plan__used_holds__in=used.order_by(), accepted=True).order_by("pk")
    list(built.select_for_update(of=("self",), no_key=True).values_list("pk", flat=True))
    standing = PlanHouse.objects.filter(plan=OuterRef("plan"), house=OuterRef("house"), accepted=True)
    rows = used.filter(Exists(standing), back__lt=F("quantity"))
    for row in rows.select_related("plan").defer("plan__inputs", "plan__result").order_by("-pk"):
        again = min(quantity, row.quantity - row.back)
        if not again:
            break
        quantity -= again
        row.back += again
        row.save(update_fields=["back"])
        pieces = tuple(Piece(house, purpose, Decimal(long), each) for house, purpose, long, each in row.pieces)
        one = Wanted(again, row.house_id, row.purpose, row.need_by, lot=lot.pk, pieces=pieces)
        wanted.append((row.plan, one))
    for plan, one in wanted:
        hold(plan=plan, user=user, wanted=[one])


# Pieces go to another place with their holds


def take_along(*, lot: Lot, house: House, quantity: int) -> list[Lifted]:
    """Lift up to ``quantity`` of what the house holds of the lot, the first needed first."""
    rows = Reservation.objects.filter(lot=lot, house=house)
    lock_what_is_held(rows)
    lifted, left = [], quantity
    for row in with_plan(rows).prefetch_related("pieces").order_by("need_by", "pk"):
        if left:
            lifted.append(_lifted(row, min(row.quantity, left)))
            left -= lower(row, left)
    return lifted


def put_down(lifted: Sequence[Lifted], *, lot: Lot) -> None:
    for one in lifted:
        one.onto(lot=lot.pk)


# One hold


@transaction.atomic
def release(*, organisation: Organisation, user: User, reservation: Reservation, quantity: int) -> int:
    """Let ``quantity`` pieces of one hold go; its house is then short of them. Gives how many were let go.

    Raises ValidationError when it holds fewer by now.
    """
    lock_what_is_held(Reservation.objects.of(organisation).filter(pk=reservation.pk))
    row = Reservation.objects.of(organisation).filter(pk=reservation.pk).first()
    there = row.quantity if row else 0
    if row is None or not 1 <= quantity <= there:
        raise ValidationError(
            {"quantity": f"{count_noun(there, 'piece')} are held here now. Type a number up to that."}
        )
    return lower(row, quantity)


def houses_of(row: Reservation) -> list[House]:
    """Every house that gets something of it, its holder first. ``pieces__house`` is loaded."""
    found = {row.house_id: row.house} | {piece.house_id: piece.house for piece in row.pieces.all()}
    return list(found.values())
