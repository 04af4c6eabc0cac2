"""Holds on what is to come: they go over to the lots that came, back to the order, or are let go.

Locks are taken in one order everywhere: the organisation, orders, lot numbers, lots by key, order lines by key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrderLine
from farmbuild.measure import count_noun
from farmbuild.stock.models import Lot, Reservation
from farmbuild.stock.reserving.consuming import reduce_reservation
from farmbuild.stock.reserving.services import (
    DetachedReservation,
    NewReservation,
    lock_lots,
    locked_by_key,
    pieces_of,
    reserve,
)


def lock_sources(*, lots: Iterable[int], lines: Iterable[int]) -> tuple[dict[int, Lot], dict[int, PurchaseOrderLine]]:
    """Lots and order lines by key, locked in the order of their keys until the transaction ends."""
    return lock_lots(lots), locked_by_key(PurchaseOrderLine.objects.all(), lines)


def lock_reserved(rows: QuerySet[Reservation]) -> None:
    """Locks the lots and lines of these holds, and again where goods came in meanwhile and a hold moved."""
    before: set[tuple[int | None, int | None]] = set()
    while (keys := set(rows.order_by().values_list("lot", "order_line"))) != before:
        before = keys
        lock_sources(lots=[lot for lot, _ in keys if lot], lines=[line for _, line in keys if line])


def move_reservations_to_lots(*, arrived: Mapping[int, Lot]) -> None:
    """Goods of order lines are in these lots now: what was held of a line is held of its lot, by need date."""
    held = Reservation.objects.filter(order_line__in=list(arrived)).order_by("need_by", "pk")
    if not held.exists():
        return
    lock_sources(lots=(), lines=arrived)
    left = {line: lot.on_hand for line, lot in arrived.items()}
    for row in held.prefetch_related("pieces"):
        line = row.order_line_id
        if left[line]:
            left[line] -= _move_reservation(row, left[line], lot=arrived[line])


def _move_reservation(
    row: Reservation, quantity: int, *, lot: Lot | None = None, line: PurchaseOrderLine | None = None
) -> int:
    """Make up to ``quantity`` of a reservation one of another lot or line; gives how many went over."""
    taken = min(row.quantity, quantity)
    if taken == row.quantity:
        row.lot, row.order_line = lot, line
        row.save(update_fields=["lot", "order_line"])
        return taken
    copy = NewReservation(
        taken,
        row.house_id,
        row.purpose,
        row.need_by,
        lot=lot and lot.pk,
        line=line and line.pk,
        pieces=pieces_of(row),
    )
    reduce_reservation(row, taken)
    reserve(organisation=row.organisation_id, plan=row.plan_id, user=row.made_by_id, wanted=[copy])
    return taken


def detach_from_lots(*, lots: Mapping[int, int]) -> list[DetachedReservation]:
    """Take every hold off the lots, key of the lot to key of its order line, to be put back on the line."""
    rows = Reservation.objects.filter(lot__in=list(lots))
    lock_reserved(rows)
    found = rows.prefetch_related("pieces").order_by("need_by", "pk")
    lifted = [DetachedReservation.of(row, row.quantity, lots[row.lot_id]) for row in found]
    rows.delete()
    return lifted


def attach_to_lines(lifted: Sequence[DetachedReservation]) -> None:
    """Holds on their order lines again. Raises ValidationError where more is held than is to come."""
    _, lines = lock_sources(lots=(), lines=[one.line for one in lifted if one.line])
    for line in lines.values():
        more = sum(one.wanted.quantity for one in lifted if one.line == line.pk) - (line.to_come - line.reserved)
        if more > 0:
            raise ValidationError(
                gettext(
                    "Houses hold %(more)s more of what came on line %(position)s than was ordered, so the "
                    "receipt cannot be reversed. Release these holds on the page of the lot first."
                )
                % {"more": count_noun(more, "piece"), "position": line.position}
            )
    for one in lifted:
        one.attach(line=one.line)


def release_lines(*, lines: Collection[int]) -> int:
    """Nothing more is to come on these order lines, so nobody holds it; gives how many pieces were held."""
    rows = Reservation.objects.filter(order_line__in=lines)
    lock_reserved(rows)
    held = sum(rows.values_list("quantity", flat=True))
    rows.delete()
    return held
