"""Writes of pipe between members. Everything is posted, agreed by the other of the two or by the manager, and taken
back; nothing is edited. In money it is two entries, which come to nothing together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy, ngettext

from farmbuild.catalogue.models import Material, check_length
from farmbuild.common.speaking import kept_words, said_count
from farmbuild.coop.books.services import NewEntry, post_entries, take_entries_back
from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.models import MemberEntry, PipeLoan, PipeReturn
from farmbuild.coop.pipe.amounts import amount_given, amount_settled
from farmbuild.crew.models import Member
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.leave import leaves_in_force
from farmbuild.stock.ledger import take_hand_out_back
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.owners.services import (
    give_leave,
    pass_to_member,
    receive_for_member,
    take_leave_back,
)
from farmbuild.stock.services import check_count, check_owner, post_movement

Kind = PipeLoan.Kind
WHY = gettext_lazy("Say why in a few words, for example: it was told wrong.")
NOTHING_TO_AGREE = gettext_lazy("There is nothing here to agree to any more. Look at the page again.")


@dataclass(frozen=True)
class NewPipe:
    """``length`` in mm, None for counted things; ``price`` of one where it is given for money, 0 for a present.

    ``lot``: the lender's own in the common yard that it comes from; material and length are then the lot's.
    """

    kind: Kind
    lender: Member
    borrower: Member
    material: Material | None
    length: Decimal | None
    quantity: int
    day: date
    price: Decimal = Decimal(0)
    lot: Lot | None = None
    back_until: date | None = None
    note: str = ""


@needs(Act.PLAN)
@transaction.atomic
def record_pipe(*, organisation: Organisation, user: User | None, new: NewPipe) -> PipeLoan:
    """By the manager, as both told it: ``note`` says how. Counts at once. Raises ValidationError by field."""
    if not new.note.strip():
        raise ValidationError({"note": gettext("Say how they told it, for example: both were here on Monday.")})
    return _agree(_store(organisation, user, new, asked_of=None), user)


@transaction.atomic
def tell_pipe(*, member: Member, user: User, new: NewPipe) -> PipeLoan:
    """By one of the two on its own page; counts once the other agrees. Raises ValidationError by field."""
    check_acts_for(member=member, user=user)
    if member.pk not in (new.lender.pk, new.borrower.pk):
        raise ValidationError(gettext("You can only tell of pipe that you lend or borrow."))
    other = new.borrower if member.pk == new.lender.pk else new.lender
    return _store(member.organisation, user, new, asked_of=other)


@transaction.atomic
def agree_to_pipe(*, member: Member, user: User, loan: PipeLoan) -> PipeLoan:
    """The other of the two says that it is so. Raises ValidationError where it was agreed or taken back meanwhile."""
    check_acts_for(member=member, user=user)
    lock_currency(organisation=member.organisation)
    row = _locked(member.organisation, loan)
    if row.asked_of_id != member.pk or row.agreed_at or row.back_at:
        raise ValidationError(NOTHING_TO_AGREE)
    return _agree(row, user)


@needs(Act.PLAN)
@transaction.atomic
def agree_for_member(
    *, organisation: Organisation, user: User | None, row: PipeLoan | PipeReturn
) -> PipeLoan | PipeReturn:
    """The manager heard from whoever is asked that it is so. Raises ValidationError as ``agree_to_pipe``."""
    lock_currency(organisation=organisation)
    if isinstance(row, PipeLoan):
        loan = _locked(organisation, row)
        if loan.agreed_at or loan.back_at:
            raise ValidationError(NOTHING_TO_AGREE)
        return _agree(loan, user)
    _locked(organisation, row.loan)
    current = _return_locked(organisation, row)
    if current.agreed_at or current.back_at:
        raise ValidationError(NOTHING_TO_AGREE)
    return _settle(current, user)


def _store(organisation: Organisation, user: User | None, new: NewPipe, asked_of: Member | None) -> PipeLoan:
    check_owner(organisation, lender=new.lender, borrower=new.borrower, material=new.material, lot=new.lot)
    if new.lender.pk == new.borrower.pk:
        raise ValidationError({"borrower": gettext("Choose another member than the one who lends.")})
    check_count(new.quantity, field="quantity")
    if new.day > today_of(organisation=organisation):
        raise ValidationError({"day": gettext("Type today, or the day on which it was.")})
    if new.back_until and new.back_until < new.day:
        raise ValidationError({"back_until": gettext("Type a day after that of lending, or leave it empty.")})
    if new.price and new.kind == Kind.LENT:
        raise ValidationError(
            {"price": gettext("What is lent has no price. Turn it into money when it is not to come back.")}
        )
    if new.price < 0:
        raise ValidationError({"price": gettext("Type a price above 0, or leave it empty for a present.")})
    if new.price:
        lock_currency(organisation=organisation)
    material, length = new.material, new.length
    if new.lot is not None:
        if new.lot.owner_id != new.lender.pk:
            raise ValidationError(
                {
                    "lot": gettext("The pieces of %(lot)s are not those of %(lender)s.")
                    % {"lot": new.lot, "lender": new.lender}
                }
            )
        if new.quantity > new.lot.on_hand:
            there = said_count(new.lot.on_hand, "piece")
            raise ValidationError(
                {
                    "quantity": gettext("%(lot)s has %(there)s. Type no more than that.")
                    % {"lot": new.lot, "there": there}
                }
            )
        material, length = new.lot.material, new.lot.length
    if material is None:
        raise ValidationError({"material": gettext("Choose the material, or the lot that it comes from.")})
    check_length(material, length)
    row = PipeLoan(
        organisation=organisation,
        by=user,
        kind=new.kind,
        lender=new.lender,
        borrower=new.borrower,
        material=material,
        length=length,
        quantity=new.quantity,
        price=new.price,
        lot=new.lot,
        back_until=new.back_until if new.kind == Kind.LENT else None,
        day=new.day,
        note=new.note.strip()[:200],
        asked_of=asked_of,
    )
    row.clean_fields(exclude=["organisation", "lender", "borrower", "material", "lot", "by", "asked_of"])
    row.save()
    return row


def _agree(row: PipeLoan, user: User | None) -> PipeLoan:
    """It counts from now on: pieces go out of the lender's lot, and what is given for money is owed."""
    organisation = row.organisation
    if row.price:
        lock_currency(organisation=organisation)
    if row.lot_id:
        row.movement = _out_of_the_yard(row, user)
    row.agreed_at, row.agreed_by = timezone.now(), user
    row.save(update_fields=["agreed_at", "agreed_by", "movement"])
    if row.price:
        what = f"{count_noun(row.quantity, 'piece')} of {row.material}"
        _owe(row, user, row.day, what, amount_given(row, organisation.currency), f"pipe {row.pk}")
    return row


def _out_of_the_yard(row: PipeLoan, user: User | None) -> Movement:
    """By leave for this alone; what the borrower may take beside it, it may take after it too."""
    who = {"organisation": row.organisation, "user": user}
    leaves = leaves_in_force(organisation=row.organisation, lots=[row.lot_id])
    beside = next((leave for leave in leaves if leave.member_id == row.borrower_id), None)
    told = f"pipe {kept_words(row.get_kind_display()).lower()} to {row.borrower}"
    give_leave(**who, lot=row.lot, quantity=row.quantity, told=told, member=row.borrower)
    reason = f"{kept_words(row.get_kind_display())} by {row.lender}"
    movement, _ = pass_to_member(**who, lot=row.lot, quantity=row.quantity, member=row.borrower, reason=reason)
    left = Lot.objects.values_list("on_hand", flat=True).get(pk=row.lot_id)
    if beside and left:
        again = {"quantity": min(beside.left, left), "until": beside.until, "told": beside.told}
        give_leave(**who, lot=row.lot, member=row.borrower, **again)
    return movement


def _owe(row: PipeLoan, user: User | None, day: date, what: str, amount: Decimal, source: str) -> None:
    """The borrower owes it, and the lender is owed it, below 0 the other way round: together nothing."""
    kind = MemberEntry.Kind.PIPE
    entries = [
        NewEntry(row.borrower, day, kind, f"{what}, of {row.lender}", amount, source=source),
        NewEntry(row.lender, day, kind, f"{what}, to {row.borrower}", -amount, source=source),
    ]
    post_entries(organisation=row.organisation, user=user, entries=entries)


@dataclass(frozen=True)
class NewReturn:
    """``quantity`` pieces of the loan are settled: by as many that came back (``damaged`` of them), by ``came`` others
    of ``material`` and ``length`` (mm, None for counted things), or for money at ``price`` of one.

    Others go pieces by pieces, or by value: then ``price`` is of one that was lent and ``came_price`` of one that came,
    and the difference is owed in money.
    """

    quantity: int
    day: date
    damaged: int = 0
    price: Decimal = Decimal(0)
    into_lot: bool = False
    note: str = ""
    came: int | None = None
    material: Material | None = None
    length: Decimal | None = None
    came_price: Decimal = Decimal(0)


@needs(Act.PLAN)
@transaction.atomic
def record_return(*, organisation: Organisation, user: User | None, loan: PipeLoan, new: NewReturn) -> PipeReturn:
    """By the manager, as both told it. Raises ValidationError by field."""
    if (new.price or new.came) and not new.note.strip():
        raise ValidationError({"note": gettext("Say how both agreed to it, for example: by telephone on Monday.")})
    return _settle(_store_return(organisation, user, loan, new, asked_of=None), user)


@transaction.atomic
def tell_return(*, member: Member, user: User, loan: PipeLoan, new: NewReturn) -> PipeReturn:
    """By one of the two on its own page; counts once the other agrees. Raises ValidationError by field."""
    check_acts_for(member=member, user=user)
    if member.pk not in (loan.lender_id, loan.borrower_id):
        raise ValidationError(gettext("This is between two others."))
    other = loan.borrower if member.pk == loan.lender_id else loan.lender
    return _store_return(member.organisation, user, loan, new, asked_of=other)


@transaction.atomic
def agree_to_return(*, member: Member, user: User, row: PipeReturn) -> PipeReturn:
    """The other of the two says that it is so."""
    check_acts_for(member=member, user=user)
    lock_currency(organisation=member.organisation)
    _locked(member.organisation, row.loan)
    current = _return_locked(member.organisation, row)
    if current.asked_of_id != member.pk or current.agreed_at or current.back_at:
        raise ValidationError(NOTHING_TO_AGREE)
    return _settle(current, user)


def _store_return(
    organisation: Organisation, user: User | None, loan: PipeLoan, new: NewReturn, asked_of: Member | None
) -> PipeReturn:
    if new.price:
        lock_currency(organisation=organisation)
    current = _locked(organisation, loan)
    check_count(new.quantity, field="quantity")
    if current.kind != Kind.LENT:
        raise ValidationError(gettext("This was given and does not come back."))
    if current.agreed_at is None or current.back_at:
        raise ValidationError(gettext("This loan does not count, so nothing comes back of it."))
    if new.day > today_of(organisation=organisation) or new.day < current.day:
        raise ValidationError({"day": gettext("Type a day from that of lending until today.")})
    if new.price < 0:
        raise ValidationError({"price": gettext("Type a price above 0.")})
    if not 0 <= new.damaged <= (new.came or new.quantity):
        raise ValidationError({"damaged": gettext("Type no more than came back.")})
    if new.came is not None:
        _check_other(organisation, new)
    told = current.returns.net().aggregate(sum=Sum("quantity", default=0))["sum"]
    out = current.quantity - told
    if new.quantity > out:
        raise ValidationError(
            {
                "quantity": ngettext(
                    "%(count)s piece of this loan is still out, so %(quantity)s cannot be settled. Type a smaller"
                    " number.",
                    "%(count)s pieces of this loan are still out, so %(quantity)s cannot be settled. Type a smaller"
                    " number.",
                    out,
                )
                % {"count": format_count(out), "quantity": format_count(new.quantity)}
            }
        )
    if new.into_lot and current.lot_id is None:
        raise ValidationError(
            {"into_lot": gettext("The loan did not come out of the common yard, so it has no lot there.")}
        )
    in_money = bool(new.price) and new.came is None
    row = PipeReturn(
        organisation=organisation,
        by=user,
        loan=current,
        quantity=new.quantity,
        in_money=in_money,
        price=new.price,
        damaged=0 if in_money else new.damaged,
        came=new.came,
        material=new.material if new.came is not None else None,
        length=new.length if new.came is not None else None,
        came_price=new.came_price if new.came is not None else Decimal(0),
        lot=current.lot if new.into_lot and not in_money else None,
        day=new.day,
        note=new.note.strip()[:200],
        asked_of=asked_of,
    )
    row.clean_fields(exclude=["organisation", "loan", "lot", "material", "by", "asked_of"])
    row.save()
    return row


def _check_other(organisation: Organisation, new: NewReturn) -> None:
    """Pieces of another length or material than were lent."""
    check_owner(organisation, material=new.material)
    check_count(new.came, field="came")
    if new.material is None:
        raise ValidationError({"material": gettext("Choose the material that came.")})
    check_length(new.material, new.length)
    if new.came_price < 0:
        raise ValidationError({"came_price": gettext("Type a price above 0.")})
    if bool(new.price) != bool(new.came_price):
        empty = "came_price" if new.price else "price"
        raise ValidationError(
            {empty: gettext("By value takes both prices. Leave both empty to settle pieces by pieces.")}
        )


def _settle(row: PipeReturn, user: User | None) -> PipeReturn:
    loan = row.loan
    whole = (row.came or row.quantity) - row.damaged
    if row.lot_id and whole:
        row.movement = _into_the_yard(row, whole, user)
    row.agreed_at, row.agreed_by = timezone.now(), user
    row.save(update_fields=["agreed_at", "agreed_by", "movement"])
    if amount := amount_settled(row, row.organisation.currency):
        what = f"{count_noun(row.quantity, 'piece')} of {loan.material} that were lent"
        less = f", less {format_count(row.came)} of {row.material}" if row.came else ""
        _owe(loan, user, row.day, f"{what}{less}", amount, f"pipe {loan.pk}-{row.pk}")
    return row


def _into_the_yard(row: PipeReturn, pieces: int, user: User | None) -> Movement:
    """Into the lot that they came out of; others into a lot of the lender's beside it."""
    words = f"Back from {row.loan.borrower}"
    lots = Lot.objects.select_related("organisation", "place", "owner")
    if row.material is None:
        return post_movement(lots.get(pk=row.lot_id), Movement.Kind.RECEIVE, pieces, user, words)
    return receive_for_member(
        organisation=row.organisation,
        user=user,
        beside=lots.get(pk=row.lot_id),
        material=row.material,
        length=row.length,
        quantity=pieces,
        received_on=row.day,
        reason=words,
    )


@needs(Act.PLAN)
@transaction.atomic
def take_return_back(*, organisation: Organisation, user: User | None, row: PipeReturn, reason: str) -> PipeReturn:
    """As though it had not been: pieces go out of the lot again, and nothing is owed for it."""
    if not reason.strip():
        raise ValidationError({"reason": WHY})
    lock_currency(organisation=organisation)
    _locked(organisation, row.loan)
    current = _return_locked(organisation, row)
    if current.back_at:
        raise ValidationError(gettext("This is taken back already."))
    if current.movement_id:
        _undo_receipt(current.movement, user, reason)
    if current.price and current.agreed_at:
        _take_entries(organisation, user, f"pipe {current.loan_id}-{current.pk}", reason)
    return _taken_back(current, user, reason)


@needs(Act.PLAN)
@transaction.atomic
def take_pipe_back(*, organisation: Organisation, user: User | None, loan: PipeLoan, reason: str) -> PipeLoan:
    """As though it had not been lent or given. Raises ValidationError while something of it is settled."""
    if not reason.strip():
        raise ValidationError({"reason": WHY})
    lock_currency(organisation=organisation)
    current = _locked(organisation, loan)
    if current.back_at:
        raise ValidationError(gettext("This is taken back already."))
    if current.returns.net().exists():
        raise ValidationError(gettext("Some of it came back or was turned into money. Take that back first."))
    if current.movement_id:
        take_hand_out_back(organisation=organisation, user=user, movement=current.movement, reason=reason)
        _end_its_leave(organisation, user, current, reason)
    if current.price and current.agreed_at:
        _take_entries(organisation, user, f"pipe {current.pk}", reason)
    return _taken_back(current, user, reason)


@transaction.atomic
def withdraw_told(*, member: Member, user: User, row: PipeLoan | PipeReturn) -> PipeLoan | PipeReturn:
    """One of the two says that it is not so, while it counts for nothing yet."""
    check_acts_for(member=member, user=user)
    loan = row if isinstance(row, PipeLoan) else row.loan
    if member.pk not in (loan.lender_id, loan.borrower_id):
        raise ValidationError(gettext("This is between two others."))
    _locked(member.organisation, loan)
    current = type(row).objects.of(member.organisation).select_for_update(of=("self",)).get(pk=row.pk)
    if current.agreed_at or current.back_at:
        raise ValidationError(gettext("This counts already, or was taken back. Ask the cooperative."))
    return _taken_back(current, user, f"not so, says {member}")


def _end_its_leave(organisation: Organisation, user: User | None, loan: PipeLoan, reason: str) -> None:
    """Leave was given for this loan alone, and would stand again with its pieces."""
    leave = loan.movement.leave
    if leave and not leave.ended_at:
        take_leave_back(organisation=organisation, user=user, leave=leave, reason=reason)


def _undo_receipt(movement: Movement, user: User | None, reason: str) -> None:
    lot = Lot.objects.select_for_update().get(pk=movement.lot_id)
    post_movement(lot, Movement.Kind.RECEIVE, -movement.quantity, user, reason, reverses=movement)


def _take_entries(organisation: Organisation, user: User | None, source: str, reason: str) -> None:
    rows = MemberEntry.objects.of(organisation).net().filter(kind=MemberEntry.Kind.PIPE, source=source)
    take_entries_back(organisation=organisation, user=user, entries=rows, reason=reason)


def _taken_back(row: Any, user: User | None, reason: str) -> Any:
    row.back_at, row.back_by, row.back_because = timezone.now(), user, reason.strip()[:200]
    row.save(update_fields=["back_at", "back_by", "back_because"])
    return row


def _locked(organisation: Organisation, loan: PipeLoan) -> PipeLoan:
    rows = PipeLoan.objects.of(organisation).select_for_update(of=("self",))
    return rows.select_related("lender", "borrower", "material", "lot", "organisation", "movement").get(pk=loan.pk)


def _return_locked(organisation: Organisation, row: PipeReturn) -> PipeReturn:
    rows = PipeReturn.objects.of(organisation).select_for_update(of=("self",))
    named = ("organisation", "material", "movement", "loan__lender", "loan__borrower", "loan__material")
    return rows.select_related(*named).get(pk=row.pk)


def owed_again(*, organisation: Organisation) -> Mapping[int, Decimal]:
    """What loans and gifts in money come to by member, worked out of their rows: above zero it owes."""
    owed: dict[int, Decimal] = {}

    def add(loan: PipeLoan, amount: Decimal) -> None:
        owed[loan.borrower_id] = owed.get(loan.borrower_id, Decimal(0)) + amount
        owed[loan.lender_id] = owed.get(loan.lender_id, Decimal(0)) - amount

    for loan in PipeLoan.objects.of(organisation).net().filter(price__gt=0).exclude(agreed_at=None):
        add(loan, amount_given(loan, organisation.currency))
    rows = PipeReturn.objects.of(organisation).net().filter(price__gt=0).exclude(agreed_at=None)
    for row in rows.select_related("loan"):
        add(row.loan, amount_settled(row, organisation.currency))
    return owed
