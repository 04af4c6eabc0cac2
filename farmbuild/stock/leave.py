"""What may be taken of a member's lot, and by which leave. Asked under the lock of the lot."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import F, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.measure import format_count, join_words
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.stock.models import Leave, Lot, Movement

#: Kinds that take pieces out for good, or make something else of them.
TAKES_OUT = frozenset(
    {Movement.Kind.ISSUE, Movement.Kind.SCRAP, Movement.Kind.LEND, Movement.Kind.CUT, Movement.Kind.HANDED_OUT}
)


def with_left(leaves: QuerySet[Leave]) -> QuerySet[Leave]:
    """Each with ``used`` and ``left``: pieces taken by it, and those that still may be."""
    used = Coalesce(-Sum("movements__quantity"), 0)
    return leaves.annotate(used=used).annotate(left=F("quantity") - F("used"))


def standing_leaves(lots: Collection[int]) -> list[Leave]:
    """Not ended, with something ``left``; a last day that is over counts still. For one alone first."""
    rows = with_left(Leave.objects.standing().filter(lot__in=lots)).filter(left__gt=0)
    return sorted(
        rows.select_related("house", "member"), key=lambda row: (row.house_id is None and row.member_id is None, row.pk)
    )


def leaves_that_stand(*, organisation: Organisation) -> QuerySet[Leave]:
    """Not ended, each with its lot and owner, ``used`` and ``left``."""
    rows = with_left(Leave.objects.of(organisation).filter(ended_at=None))
    return rows.select_related("lot__owner", "lot__material", "lot__organisation", "house", "member")


def leaves_of(*, lot: Lot) -> list[Leave]:
    """All that was ever given of the lot, the last first, with ``used`` and ``left``; nothing of a lot of one's own."""
    if lot.owner_id is None:
        return []
    return list(with_left(Leave.objects.filter(lot=lot)).select_related("house", "member", "given_by").order_by("-pk"))


def leaves_in_force(*, organisation: Organisation, lots: Collection[int]) -> list[Leave]:
    """Those of ``standing_leaves`` that count today."""
    today = today_of(organisation=organisation)
    return [row for row in standing_leaves(lots) if row.until is None or row.until >= today]


def leave_for_whoever(*, organisation: Organisation, lots: Collection[int]) -> dict[int, int]:
    """Key of a lot to pieces that any house of the organisation may still have of it by leave."""
    rows = leaves_in_force(organisation=organisation, lots=lots)
    return {row.lot_id: row.left for row in rows if row.house_id is None and row.member_id is None}


def room_by_leave(lot: Lot, quantity: int) -> int:
    """Of so many pieces those that houses may hold more of the lot; all of them where it is the organisation's own."""
    if lot.owner_id is None:
        return quantity
    held = Lot.objects.values_list("reserved", flat=True).get(pk=lot.pk)
    return min(quantity, max(0, sum(row.left for row in standing_leaves([lot.pk])) - held))


@dataclass(frozen=True)
class Taking:
    """Who takes pieces: a house, or a member; neither: the organisation for whatever it does."""

    house: House | None = None
    member: Any = None

    def fits(self, leave: Leave) -> bool:
        if leave.house_id is None and leave.member_id is None:
            return True
        if leave.house_id is not None:
            return self.house is not None and leave.house_id == self.house.pk
        return self.member is not None and leave.member_id == self.member.pk


def leave_to_take(lot: Lot, quantity: int, taking: Taking) -> Leave | None:
    """The leave by which so many go out; None where none is needed: the organisation's own, or the owner takes them.

    Raises ValidationError with whose they are, what leave there is, and what to do.
    """
    if lot.owner_id is None or (taking.member is not None and taking.member.pk == lot.owner_id):
        return None
    rows = leaves_in_force(organisation=lot.organisation, lots=[lot.pk])
    found = next((row for row in rows if taking.fits(row) and row.left >= quantity), None)
    if found is None:
        raise ValidationError({"quantity": refusal(lot, quantity)})
    return found


def refusal(lot: Lot, quantity: int) -> str:
    today = today_of(organisation=lot.organisation)
    over = [row for row in standing_leaves([lot.pk]) if row.until and row.until < today]
    rows = leaves_in_force(organisation=lot.organisation, lots=[lot.pk])
    given = join_words([in_words(row) for row in rows])
    if rows:
        why = f"leave is given for {given}, which does not cover {format_count(quantity)} here"
    elif over:
        why = f"its leave was until {day(over[0].until)}"
    else:
        why = "no leave is given to take of them"
    return (
        f"The pieces of lot {lot} are those of {lot.owner}, and {why}. Ask {lot.owner}, and record the leave on"
        f" the page of the lot."
    )


def in_words(leave: Leave) -> str:
    """3 pieces for North 1 until 4 May 2027. ``leave`` has ``left``."""
    whom = gettext(" for %(whom)s") % {"whom": leave.house or leave.member} if leave.house_id or leave.member_id else ""
    until = gettext(" until %(day)s") % {"day": day(leave.until)} if leave.until else ""
    return f"{said_count(leave.left, 'piece')}{whom}{until}"


def carry(leave: Leave, lot: Lot, quantity: int) -> Leave:
    """The same leave for pieces in another lot, which were moved there or cut of the first."""
    return Leave.objects.create(
        organisation_id=leave.organisation_id,
        lot=lot,
        quantity=quantity,
        house_id=leave.house_id,
        member_id=leave.member_id,
        until=leave.until,
        told=leave.told,
        given_by_id=leave.given_by_id,
    )


def move_leave(lot: Lot, made: Lot, held: int) -> None:
    """Leave goes along with pieces that were moved: all of it where nothing stays behind, else for ``held`` pieces."""
    left_here = Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)
    rest = held
    for row in standing_leaves([lot.pk]):
        along = min(row.left, rest) if left_here else row.left
        if along:
            rest -= along
            row.quantity -= along
            row.save(update_fields=["quantity"])
            carry(row, made, along)


def leave_brought_back(lot: Lot, quantity: int, house: House | None) -> Leave | None:
    """The leave that pieces which come back went out by: it may be used again for as many."""
    if lot.owner_id is None:
        return None
    moved = Movement.objects.filter(lot=lot, kind=Movement.Kind.ISSUE, reversed_by=None, leave__ended_at=None)
    moved = moved.filter(house=house).exclude(leave=None) if house else moved.exclude(leave=None)
    keys = list(moved.values_list("leave", flat=True).distinct())
    return with_left(Leave.objects.filter(pk__in=keys)).filter(used__gte=quantity).order_by("-pk").first()
