"""Writes that tie movements together: a reversal, pieces moved to another place, lent and given back, handed out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House
from farmbuild.stock.bridge import line_total
from farmbuild.stock.costing import opposite
from farmbuild.stock.leave import move_leave
from farmbuild.stock.models import Lot, Movement, Place, UsedHold
from farmbuild.stock.reserving.consuming import reserved_words
from farmbuild.stock.reserving.services import attach_reservations, detach_reservations
from farmbuild.stock.services import (
    check_count,
    check_owner,
    check_reason,
    make_room,
    post_movement,
    take_numbers,
)
from farmbuild.stock.signals import pieces_back

#: For so long after an issue a press puts it back; common practice, no source.
JUST_NOW = timedelta(hours=12)
LONGEST_LOAN = timedelta(days=730)


def new_lot_like(
    *,
    lot: Lot,
    place: Place,
    reference: str,
    length: Decimal | None,
    offcut: bool,
    unit_cost: Decimal = Decimal(0),
    owner: Any = None,
) -> Lot:
    """An empty lot of the same material, supplier and day, stored in the caller's transaction.

    ``owner``: the member that it becomes; None: its pieces stay whose they are.
    """
    made = Lot(
        organisation=lot.organisation,
        reference=reference,
        material=lot.material,
        length=length,
        offcut=offcut,
        place=place,
        supplier=lot.supplier,
        owner_id=owner.pk if owner else lot.owner_id,
        unit_cost=unit_cost,
        received_on=lot.received_on,
    )
    made.full_clean()
    made.save()
    return made


@needs(Act.STOCK)
@transaction.atomic
def move_pieces(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    quantity: int,
    place: Place,
    reason: str = "",
    paper: str = "",
    house: House | None = None,
) -> Lot:
    """Put pieces of a lot in another place, at the same or another site; gives the new lot there.

    Two movements, one out of the lot and one into the new one. What ``house`` holds of the lot goes first, and it
    holds it in the new place. Raises ValidationError by field.
    """
    check_owner(organisation, place=place, house=house)
    check_count(quantity, field="quantity")
    # The numbers are locked before the lot, here and wherever both are.
    [reference] = take_numbers(organisation=organisation, count=1)
    current = Lot.objects.of(organisation).select_related("material", "supplier", "organisation").get(pk=lot.pk)
    if current.place_id == place.pk:
        raise ValidationError(
            {
                "place": gettext("%(current)s lies at %(place)s already. Choose another place.")
                % {"current": current, "place": place}
            }
        )
    along = detach_reservations(lot=current, house=house, quantity=quantity) if house else []
    out = post_movement(current, Movement.Kind.MOVE, -quantity, user, reason, paper=paper)
    made = new_lot_like(
        lot=current,
        place=place,
        reference=reference,
        length=current.length,
        unit_cost=current.unit_cost,
        offcut=current.offcut,
    )
    post_movement(made, Movement.Kind.MOVE, quantity, user, reason, paper=paper, moved_from=out, amount=-out.amount)
    if current.owner_id:
        move_leave(current, made, sum(one.wanted.quantity for one in along))
    attach_reservations(along, lot=made)
    return made


@needs(Act.STOCK)
@transaction.atomic
def lend_pieces(
    *,
    organisation: Organisation,
    user: User,
    lot: Lot,
    quantity: int,
    borrower: str,
    back_on: date | None = None,
    reason: str = "",
    paper: str = "",
) -> Movement:
    """Hand pieces to a member who gives them back, by ``back_on`` where a day is agreed.

    Raises ValidationError when there are not that many, or the day has passed or is more than LONGEST_LOAN away.
    """
    check_count(quantity, field="quantity")
    borrower = " ".join(borrower.split())
    if not borrower:
        raise ValidationError({"borrower": gettext("Type who takes them, for example Ana Ruiz.")})
    today = today_of(organisation=organisation)
    if back_on and not today <= back_on <= today + LONGEST_LOAN:
        raise ValidationError(
            {
                "back_on": gettext("Type a day from today to %(days)s days from now, or leave it empty.")
                % {"days": LONGEST_LOAN.days}
            }
        )
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return post_movement(
        current, Movement.Kind.LEND, -quantity, user, reason, paper=paper, borrower=borrower, back_on=back_on
    )


def pieces_still_lent(loan: Movement) -> int:
    """Pieces of a loan that are still out."""
    return _still_lent(loan)[0]


def _still_lent(loan: Movement) -> tuple[int, Decimal]:
    """Pieces of a loan that are still out, and what they cost."""
    if Movement.objects.filter(reverses=loan).exists():
        return 0, Decimal(0)
    back = Movement.objects.filter(gives_back=loan).aggregate(
        pieces=Sum("quantity", default=0), coins=Sum("amount", default=Decimal(0))
    )
    return -loan.quantity - back["pieces"], -loan.amount - back["coins"]


@needs(Act.STOCK)
@transaction.atomic
def return_loan(
    *, organisation: Organisation, user: User, loan: Movement, quantity: int, reason: str = "", paper: str = ""
) -> Movement:
    """Take back pieces of a loan. Raises ValidationError when fewer are still out."""
    check_count(quantity, field="quantity")
    current = Movement.objects.get(pk=loan.pk, lot__organisation=organisation, kind=Movement.Kind.LEND, reverses=None)
    # Everything that concerns a loan goes through the lock of its lot.
    lot = Lot.objects.of(organisation).select_for_update().get(pk=current.lot_id)
    out, cost = _still_lent(current)
    if quantity > out:
        raise ValidationError(
            {
                "quantity": gettext(
                    "%(borrower)s has %(out)s of this loan, so %(quantity)s cannot come back. Type a smaller number."
                )
                % {"borrower": current.borrower, "out": count_noun(out, "piece"), "quantity": format_count(quantity)}
            }
        )
    return post_movement(
        lot,
        Movement.Kind.GIVEN_BACK,
        quantity,
        user,
        reason,
        paper=paper,
        borrower=current.borrower,
        gives_back=current,
        # The last of them bring back all that is left.
        amount=line_total(quantity, cost / out, organisation.currency) if quantity < out else cost,
    )


@needs(Act.STOCK)
@transaction.atomic
def hand_out_pieces(
    *, organisation: Organisation, user: User | None, lot: Lot, quantity: int, reason: str, paper: str = ""
) -> Movement:
    """Pieces leave for a member for good; it bears what they cost. Raises ValidationError where fewer are free.

    Only ``take_hand_out_back`` undoes it: whoever keeps account of what members got calls both.
    """
    check_count(quantity, field="quantity")
    current = Lot.objects.of(organisation).get(pk=lot.pk)
    return post_movement(current, Movement.Kind.HANDED_OUT, -quantity, user, reason, paper=paper)


@needs(Act.STOCK)
@transaction.atomic
def take_hand_out_back(*, organisation: Organisation, user: User | None, movement: Movement, reason: str) -> Movement:
    """The same pieces are in the lot again, at what they had cost. Raises ValidationError where they are already."""
    check_reason(reason)
    out = Movement.objects.get(pk=movement.pk, lot__organisation=organisation, kind=Movement.Kind.HANDED_OUT)
    lot = Lot.objects.of(organisation).select_for_update().get(pk=out.lot_id)
    if out.reverses_id or Movement.objects.filter(reverses=out).exists():
        raise ValidationError(gettext("These pieces are back in %(lot)s already.") % {"lot": lot})
    return _opposite(out, lot, user, reason, out.paper)


def issue_to_put_back(*, lot: Lot) -> Movement | None:
    """The issue that a press puts back: the last that was recorded of the lot, within JUST_NOW, by itself."""
    last = Movement.objects.filter(lot=lot).select_related("house").order_by("-pk").first()
    if last is None or last.kind != Movement.Kind.ISSUE or last.reverses_id or last.cut_id:
        return None
    return None if last.at < timezone.now() - JUST_NOW or hasattr(last, "batch_sticks") else last


@needs(Act.STOCK)
@transaction.atomic
def put_back(*, organisation: Organisation, user: User, movement: Movement) -> Movement:
    """Undo an issue just made: the same pieces are in the lot again, held as they had been.

    Raises ValidationError when they are back already, or it is not what ``issue_to_put_back`` gives any more.
    """
    issued = Movement.objects.get(pk=movement.pk, lot__organisation=organisation, kind=Movement.Kind.ISSUE)
    lot = Lot.objects.of(organisation).select_for_update().get(pk=issued.lot_id)
    if Movement.objects.filter(reverses=issued).exists():
        raise ValidationError(gettext("These pieces are back in %(lot)s already.") % {"lot": lot})
    if issue_to_put_back(lot=lot) != issued:
        raise ValidationError(
            gettext(
                "Something else was recorded of %(lot)s since, or a while has passed. Use Return on the "
                "page of the lot."
            )
            % {"lot": lot}
        )
    [back] = reverse(organisation=organisation, user=user, movement=issued, reason="Returned at once")
    return back


@needs(Act.STOCK)
@transaction.atomic
def reverse(
    *, organisation: Organisation, user: User, movement: Movement, reason: str, paper: str = ""
) -> list[Movement]:
    """Undo a movement by its opposite, with all that was recorded in the same go: both ends of a move, a whole cut.

    Raises ValidationError when it was reversed already, is a reversal, or the pieces are no longer in their lot.
    """
    check_reason(reason)
    wanted = Movement.objects.get(pk=movement.pk, lot__organisation=organisation)
    together = recorded_together(wanted)
    lots = {
        lot.pk: lot
        for lot in Lot.objects.of(organisation)
        .select_for_update()
        .filter(pk__in={row.lot_id for row in together})
        .order_by("pk")
    }
    # Looked at again under the locks of the lots.
    if wanted.reverses_id:
        raise ValidationError(gettext("This movement is itself a reversal. Record what is right as a new movement."))
    if Movement.objects.filter(reverses__in=together).exists():
        raise ValidationError(gettext("This movement was reversed already."))
    if taken := getattr(wanted, "batch_sticks", None):
        raise ValidationError(
            gettext("These sticks are counted by %(batch)s. Return sticks on its page instead.")
            % {"batch": taken.batch}
        )
    came = wanted.lot.receipt_lines.order_by("pk").first() if wanted.kind == Movement.Kind.RECEIVE else None
    if came and not Movement.objects.filter(lot=wanted.lot_id, pk__lt=wanted.pk).exists():
        raise ValidationError(
            gettext("These pieces came by %(receipt)s. Reverse that on the page of the order instead.")
            % {"receipt": came.receipt}
        )
    if wanted.kind == Movement.Kind.HANDED_OUT:
        raise ValidationError(gettext("A member has these pieces. Take that back where they were handed out instead."))
    if wanted.kind == Movement.Kind.LEND and pieces_still_lent(wanted) != -wanted.quantity:
        raise ValidationError(
            gettext("%(borrower)s returned some of these already. Reverse what was returned first, then the loan.")
            % {"borrower": wanted.borrower}
        )
    short = _missing(together, lots)
    if short is not None:
        lot, needed = short
        raise ValidationError(
            gettext(
                "%(lot)s has %(on_hand)s left, and %(needed)s would have to come out of it, so this "
                "cannot be reversed.%(value)s"
            )
            % {
                "lot": lot,
                "on_hand": count_noun(lot.on_hand, "piece"),
                "needed": format_count(needed),
                "value": reserved_words(lot) or " Bring the pieces back into the lot first.",
            }
        )
    if wanted.cut_id and (more := _more_than_cut(together, lots)):
        raise ValidationError(
            gettext(
                "Pieces went into %(more)s since it was cut, such as pieces returned. Take those out by "
                "their own movements first, or the cut would return more than the stick."
            )
            % {"more": more}
        )
    try:
        with transaction.atomic():
            # What goes back in comes first, so that no lot is below zero on the way.
            back = [_opposite(row, lots[row.lot_id], user, reason, paper) for row in together if row.quantity < 0]
            for row in together:
                if row.quantity > 0:
                    make_room([row], user)
                    back.append(_opposite(row, lots[row.lot_id], user, reason, paper))
            for row in together:
                if row.quantity < 0:
                    used = UsedHold.objects.filter(movement=row)
                    pieces_back.send(Lot, lot=lots[row.lot_id], used=used, quantity=-row.quantity, user=user)
            return back
    except IntegrityError as error:
        # Another page keeps this movement, and the database says which in plain words after the guard's name.
        raise ValidationError(
            gettext("It cannot be reversed here: %(error)s.") % {"error": _database_message(error)}
        ) from error


def recorded_together(movement: Movement) -> list[Movement]:
    """The movement and those that belong to it: the other end of a move, everything of a cut."""
    if movement.cut_id:
        return list(Movement.objects.filter(cut=movement.cut_id, reverses=None).order_by("pk"))
    if movement.kind == Movement.Kind.MOVE:
        out = movement.moved_from_id or movement.pk
        other = Movement.objects.filter(moved_from=out).order_by("pk")
        return [Movement.objects.get(pk=out), *other] if movement.reverses_id is None else [movement]
    return [movement]


def _missing(together: Sequence[Movement], lots: dict[int, Lot]) -> tuple[Lot, int] | None:
    """The first lot that has too few for the reversal, and how many it would need."""
    needs: dict[int, int] = {}
    for row in together:
        needs[row.lot_id] = needs.get(row.lot_id, 0) + row.quantity
    return next(((lots[pk], need) for pk, need in needs.items() if lots[pk].free < need), None)


def _more_than_cut(together: Sequence[Movement], lots: dict[int, Lot]) -> Lot | None:
    """A lot made by the cut that holds more than the cut left in it."""
    left: dict[int, int] = {}
    for row in together:
        left[row.lot_id] = left.get(row.lot_id, 0) + row.quantity
    return next((lots[pk] for pk, quantity in left.items() if quantity >= 0 and lots[pk].on_hand > quantity), None)


def _opposite(row: Movement, lot: Lot, user: User | None, reason: str, paper: str) -> Movement:
    return post_movement(
        lot,
        Movement.Kind(row.kind),
        -row.quantity,
        user,
        reason,
        paper=paper,
        borrower=row.borrower,
        house_id=row.house_id,
        member_id=row.member_id,
        leave_id=row.leave_id,
        cut_id=row.cut_id,
        gives_back_id=row.gives_back_id,
        reverses=row,
        amount=-row.amount,
        shares=list(opposite(row.shares.all())),
    )


def _database_message(error: IntegrityError) -> str:
    first = str(error).splitlines()[0]
    return first.partition(": ")[2] or first
