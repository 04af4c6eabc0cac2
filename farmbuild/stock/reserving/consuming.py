"""What is held gets in the way of taking: only the house that holds pieces takes them, and its hold goes with them."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Exists, OuterRef, QuerySet, Sum
from django.utils.translation import gettext

from farmbuild.history.act import not_told
from farmbuild.measure import format_count
from farmbuild.sites.models import House
from farmbuild.stock.models import HeldPiece, Lot, Movement, Reservation, UsedHold

#: Holders named in a refusal; more are counted.
MAX_NAMED = 3


def consume(*, lot: Lot, house: House, quantity: int, purpose: str = "") -> list[UsedHold]:
    """Lower what the house holds of the lot by up to ``quantity``, in the caller's transaction.

    What is needed first goes first, and a stick that another house gets pieces of stays held. With ``purpose`` only
    what is held for that. Gives what was used, for ``record_used`` with the movement that takes it.
    """
    if not Lot.objects.filter(pk=lot.pk, reserved__gt=0).exists():
        return []
    # The lot first, as everywhere, so that two who take from it wait for each other.
    Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    rows = Reservation.objects.filter(lot=lot, house=house)
    if purpose:
        rows = rows.filter(purpose=purpose)
    rows = rows.alias(shared=Exists(HeldPiece.objects.filter(reservation=OuterRef("pk")).exclude(house=house)))
    used: list[UsedHold] = []
    for row in rows.filter(shared=False).prefetch_related("pieces").order_by("need_by", "pk"):
        if quantity:
            used.append(used_part(row, min(quantity, row.quantity)))
            # The movement that takes it says so.
            with not_told(Reservation):
                quantity -= reduce_reservation(row, quantity)
    return used


def used_part(row: Reservation, quantity: int) -> UsedHold:
    """So many of a hold, to be kept by ``record_used``."""
    return UsedHold(
        plan_id=row.plan_id,
        house_id=row.house_id,
        purpose=row.purpose,
        quantity=quantity,
        need_by=row.need_by,
        pieces=[[piece.house_id, piece.purpose, str(piece.length), piece.each] for piece in row.pieces.all()],
    )


def record_used(used: Sequence[UsedHold], movement: Movement) -> None:
    """Keep what the movement took of holds."""
    for row in used:
        row.movement = movement
    if used:
        UsedHold.objects.bulk_create(used)


def reduce_reservation(row: Reservation, quantity: int) -> int:
    """Take up to ``quantity`` off a reservation; nothing left is no reservation. Gives how many came off."""
    taken = min(row.quantity, quantity)
    if taken == row.quantity:
        row.delete()
    else:
        row.quantity -= taken
        row.save(update_fields=["quantity"])
    return taken


def reservations_of_lots(lots: Sequence[int]) -> QuerySet[Reservation]:
    return Reservation.objects.filter(lot__in=lots)


def holders_in_words(rows: QuerySet[Reservation]) -> str:
    """6 for North 1 (plan 3), 4 for Creek 1 (plan 4); "" when nobody holds anything."""
    sums = list(
        rows.order_by()
        .values("house__name", "plan__number")
        .annotate(sum=Sum("quantity"))
        .order_by("-sum", "house__name", "plan__number")
    )
    parts = [
        gettext("%(count)s for %(house)s (plan %(plan)s)")
        % {"count": format_count(row["sum"]), "house": row["house__name"], "plan": row["plan__number"]}
        for row in sums[:MAX_NAMED]
    ]
    if len(sums) > MAX_NAMED:
        others = sum(row["sum"] for row in sums[MAX_NAMED:])
        parts.append(gettext("%(count)s for other houses") % {"count": format_count(others)})
    return ", ".join(parts)


def promised_words(lot: Lot) -> str:
    """What is kept for members gets in the way; "" where nothing of it is. ``lot`` is fresh."""
    if not lot.promised:
        return ""
    return (
        f" {format_count(lot.promised)} of lot {lot} are kept for members who wish for them. Hand them over or decline"
        " the wishes first."
    )


def reserved_words(lot: Lot) -> str:
    """Why no more of the lot can be taken, and what to do; "" where nothing of it is held. ``lot`` is fresh."""
    if not lot.reserved:
        return ""
    free = (
        f"{format_count(lot.free)} of them {'is' if lot.free == 1 else 'are'} free"
        if lot.free
        else "none of them is free"
    )
    return (
        f" {free[0].upper()}{free[1:]}; held are {holders_in_words(reservations_of_lots([lot.pk]))}. Take them"
        f" for the house that holds them, or release or swap the hold on the page of lot {lot}."
    )
