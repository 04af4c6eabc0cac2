"""Holds of accepted plans are let go, released one by one, or made again for what comes back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet
from django.utils.translation import gettext

from farmbuild.buying.reserving.services import lock_reserved
from farmbuild.measure import count_noun
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.stock.leave import room_by_leave
from farmbuild.stock.models import HeldPiece, Lot, Reservation, UsedHold
from farmbuild.stock.reserving.consuming import reduce_reservation
from farmbuild.stock.reserving.services import NewReservation, ReservedPiece, give_to_first_house, reserve


@transaction.atomic
def release_houses(*, plan: Plan, houses: Collection[int]) -> None:
    """The houses hold nothing of the plan any more.

    A stick that another house of the plan gets pieces of stays held for that house, uncut where these houses' pieces
    were.
    """
    own = Reservation.objects.filter(plan=plan, house__in=houses)
    lock_reserved(own)
    HeldPiece.objects.filter(reservation__plan=plan, house__in=houses).delete()
    others = HeldPiece.objects.filter(reservation=OuterRef("pk"))
    for row in own.filter(Exists(others)).prefetch_related("pieces__house"):
        give_to_first_house(row)
    Reservation.objects.filter(plan=plan, house__in=houses).delete()


@needs(Act.PLAN)
@transaction.atomic
def release(*, organisation: Organisation, user: User, reservation: Reservation, quantity: int) -> int:
    """Let ``quantity`` pieces of one hold go; its house is then short of them. Gives how many were let go.

    Raises ValidationError when it holds fewer by now.
    """
    lock_reserved(Reservation.objects.of(organisation).filter(pk=reservation.pk))
    row = Reservation.objects.of(organisation).filter(pk=reservation.pk).first()
    there = row.quantity if row else 0
    if row is None or not 1 <= quantity <= there:
        raise ValidationError(
            {
                "quantity": gettext("%(there)s are held here now. Type a number up to that.")
                % {"there": count_noun(there, "piece")}
            }
        )
    return reduce_reservation(row, quantity)


def reserve_again(*, lot: Lot, used: QuerySet[UsedHold], quantity: int, user: User | None) -> None:
    """Up to ``quantity`` pieces are back in the lot: houses that had held them hold them again, the last used first.

    Not for a house that its plan does not build any more, and of a member's lot no more than leave is given for.
    """
    wanted: list[tuple[int, NewReservation]] = []
    quantity = room_by_leave(lot, quantity)
    # Held still, so that the houses are not let go of meanwhile.
    built = PlanHouse.objects.filter(plan__used_holds__in=used.order_by(), accepted=True).order_by("pk")
    list(built.select_for_update(of=("self",), no_key=True).values_list("pk", flat=True))
    standing = PlanHouse.objects.filter(plan=OuterRef("plan"), house=OuterRef("house"), accepted=True)
    rows = used.filter(Exists(standing), back__lt=F("quantity"))
    for row in rows.order_by("-pk"):
        again = min(quantity, row.quantity - row.back)
        if not again:
            break
        quantity -= again
        row.back += again
        row.save(update_fields=["back"])
        pieces = tuple(ReservedPiece(house, purpose, Decimal(long), each) for house, purpose, long, each in row.pieces)
        one = NewReservation(again, row.house_id, row.purpose, row.need_by, lot=lot.pk, pieces=pieces)
        wanted.append((row.plan_id, one))
    for plan, one in wanted:
        reserve(organisation=lot.organisation_id, plan=plan, user=user and user.pk, wanted=[one])


def reserve_fetched(*, plan: int, house: int, lot: Lot, wanted: Iterable[Mapping[str, Any]]) -> None:
    """What came of common stock is held for the house that it was asked for, as ``wanted`` says (``fetched_rows``);
    nothing where its plan builds the house no more."""
    standing = PlanHouse.objects.filter(plan=plan, accepted=True).order_by("pk")
    built = set(standing.select_for_update(of=("self",), no_key=True).values_list("house", flat=True))
    if house not in built:
        return
    rows = []
    for row in wanted:
        pieces = tuple(
            ReservedPiece(pk, purpose, Decimal(length), each)
            for pk, purpose, length, each in row["pieces"]
            if pk in built
        )
        day = date.fromisoformat(row["need_by"])
        rows.append(NewReservation(row["quantity"], house, row["purpose"], day, lot=lot.pk, pieces=pieces))
    reserve(organisation=lot.organisation_id, plan=plan, user=None, wanted=rows)
