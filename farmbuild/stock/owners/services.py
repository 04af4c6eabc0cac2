"""Writes of leave, and pieces that go to a member."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House
from farmbuild.stock.leave import standing_leaves
from farmbuild.stock.ledger import new_lot_like
from farmbuild.stock.models import Leave, Lot, Movement, Place
from farmbuild.stock.reserving.consuming import holders_in_words, reservations_of_lots
from farmbuild.stock.services import check_count, check_owner, post_movement, take_numbers


@needs(Act.STOCK)
@transaction.atomic
def record_leave(
    *,
    organisation: Organisation,
    user: User | None,
    lot: Lot,
    quantity: int,
    told: str,
    house: House | None = None,
    member: Any = None,
    until: date | None = None,
) -> Leave:
    """Leave as its owner told it: ``told`` says how. See ``give_leave``."""
    if not told.strip():
        raise ValidationError({"told": gettext("Say how the owner told it, for example: by telephone on Monday.")})
    return give_leave(
        organisation=organisation,
        user=user,
        lot=lot,
        quantity=quantity,
        told=told,
        house=house,
        member=member,
        until=until,
    )


@transaction.atomic
def give_leave(
    *,
    organisation: Organisation,
    user: User | None,
    lot: Lot,
    quantity: int,
    told: str = "",
    house: House | None = None,
    member: Any = None,
    until: date | None = None,
) -> Leave:
    """So many more may be taken of a member's lot; what stood for the same house or member is over. ``told`` is empty
    where the owner gives it on its own page, which is asked there.

    Raises ValidationError by field, and where less would be allowed than houses hold by leave.
    """
    check_owner(organisation, house=house, member=member)
    check_count(quantity, field="quantity")
    current = _locked(organisation, lot)
    if current.owner_id is None:
        raise ValidationError(
            gettext("The pieces of lot %(current)s are your own; they take no leave.") % {"current": current}
        )
    if member is not None and member.pk == current.owner_id:
        raise ValidationError(
            {"member": gettext("%(member)s takes its own pieces without leave.") % {"member": member}}
        )
    if until and until < today_of(organisation=organisation):
        raise ValidationError({"until": gettext("Type a day from today on, or leave it empty.")})
    if quantity > current.on_hand:
        raise ValidationError(
            {
                "quantity": gettext("%(current)s has %(on_hand)s. Type no more than that.")
                % {"current": current, "on_hand": count_noun(current.on_hand, "piece")}
            }
        )
    for row in Leave.objects.standing().filter(lot=current, house=house, member=member):
        _end(row, user, "another leave was given")
    made = Leave(
        organisation=organisation,
        lot=current,
        quantity=quantity,
        house=house,
        member=member,
        until=until,
        told=told.strip()[:200],
        given_by=user,
    )
    made.clean_fields(exclude=["organisation", "lot", "house", "member", "given_by"])
    made.save()
    _check_covers_held(current)
    return made


@needs(Act.STOCK)
@transaction.atomic
def end_leave(*, organisation: Organisation, user: User | None, leave: Leave, reason: str) -> Leave:
    """No more is taken by it. Raises ValidationError where houses hold pieces by it."""
    if not reason.strip():
        raise ValidationError({"reason": gettext("Say why in a few words, for example: the owner needs them.")})
    return take_leave_back(organisation=organisation, user=user, leave=leave, reason=reason)


@transaction.atomic
def take_leave_back(*, organisation: Organisation, user: User | None, leave: Leave, reason: str) -> Leave:
    """As ``end_leave``, by the owner on its own page, which is asked there."""
    lot = _locked(organisation, leave.lot)
    row = Leave.objects.of(organisation).select_for_update().get(pk=leave.pk)
    if row.ended_at:
        raise ValidationError(gettext("This leave has ended already."))
    _end(row, user, reason)
    _check_covers_held(lot)
    return row


def _locked(organisation: Organisation, lot: Lot) -> Lot:
    rows = Lot.objects.of(organisation).select_for_update(of=("self",)).select_related("owner", "organisation")
    return rows.get(pk=lot.pk)


def _end(row: Leave, user: User | None, reason: str) -> None:
    row.ended_at, row.ended_by, row.ended_because = timezone.now(), user, reason.strip()[:200]
    row.save(update_fields=["ended_at", "ended_by", "ended_because"])


def _check_covers_held(lot: Lot) -> None:
    allowed = sum(row.left for row in standing_leaves([lot.pk]))
    if lot.reserved > allowed:
        raise ValidationError(
            gettext(
                "Houses hold %(reserved)s of lot %(lot)s by leave: %(value)s. Release what they hold "
                "first, then end the leave."
            )
            % {
                "reserved": format_count(lot.reserved),
                "lot": lot,
                "value": holders_in_words(reservations_of_lots([lot.pk])),
            }
        )


@needs(Act.STOCK)
@transaction.atomic
def hand_to_member(
    *,
    organisation: Organisation,
    user: User | None,
    lot: Lot,
    quantity: int,
    member: Any,
    place: Place | None = None,
    reason: str = "",
    paper: str = "",
) -> tuple[Movement, Lot | None]:
    """Pieces of a lot become a member's: out of the lot, and with ``place`` into a lot of the member's there.

    What they cost the organisation goes with them and is borne by none of its houses. No account is touched: whoever
    calls posts what the member owes. An owner has its own pieces so without leave.
    Raises ValidationError where there are not that many free, or leave is missing.
    """
    return pass_to_member(
        organisation=organisation,
        user=user,
        lot=lot,
        quantity=quantity,
        member=member,
        place=place,
        reason=reason,
        paper=paper,
    )


@transaction.atomic
def pass_to_member(
    *,
    organisation: Organisation,
    user: User | None,
    lot: Lot,
    quantity: int,
    member: Any,
    place: Place | None = None,
    reason: str = "",
    paper: str = "",
) -> tuple[Movement, Lot | None]:
    """As ``hand_to_member``, for what a member does on its own page, which is asked there."""
    check_owner(organisation, member=member, place=place)
    check_count(quantity, field="quantity")
    # The numbers are locked before the lot, here and wherever both are.
    references = take_numbers(organisation=organisation, count=1) if place else []
    current = Lot.objects.of(organisation).select_related("material", "supplier", "organisation", "owner")
    lot = current.get(pk=lot.pk)
    out = post_movement(lot, Movement.Kind.HANDED_OUT, -quantity, user, reason, paper=paper[:80], member=member)
    if place is None:
        return out, None
    made = new_lot_like(
        lot=lot, place=place, reference=references[0], length=lot.length, offcut=lot.offcut, owner=member
    )
    post_movement(made, Movement.Kind.RECEIVE, quantity, user, reason, paper=paper[:80])
    return out, made


@transaction.atomic
def receive_for_member(
    *,
    organisation: Organisation,
    user: User | None,
    beside: Lot,
    material: Material,
    length: Decimal | None,
    quantity: int,
    received_on: date,
    reason: str,
) -> Movement:
    """A new lot for the owner of ``beside``, at its place; ``length`` in mm, None for counted things.

    Within what both members agreed to, which is asked there. Raises ValidationError by field.
    """
    check_owner(organisation, material=material)
    [reference] = take_numbers(organisation=organisation, count=1)
    made = Lot(
        organisation=organisation,
        reference=reference,
        material=material,
        length=length,
        place=beside.place,
        owner=beside.owner,
        received_on=received_on,
    )
    made.full_clean()
    made.save()
    return post_movement(made, Movement.Kind.RECEIVE, quantity, user, reason)
