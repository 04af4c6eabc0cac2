"""Writes of common stock: opened to members, wished for, and handed over with what is owed for it in one press."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_count
from farmbuild.coop.books.services import NewEntry, post_entries
from farmbuild.coop.common.words import answered_words
from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.members.selectors import farm_of
from farmbuild.coop.models import CommonOffer, CommonWish, MemberEntry
from farmbuild.crew.models import Member
from farmbuild.measure import count_noun, format_count, line_total
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.reserving.services import reserve_fetched
from farmbuild.stock.models import Lot, Place
from farmbuild.stock.owners.services import hand_to_member
from farmbuild.stock.services import check_count, check_owner, receive_lot

State = CommonWish.State
#: Of one member.
MAX_OPEN = 50


@needs(Act.PLAN)
@transaction.atomic
def open_lot(
    *,
    organisation: Organisation,
    user: User | None,
    lot: Lot,
    quantity: int,
    price: Decimal | None = None,
    members: Collection[Member] = (),
    until: date | None = None,
    note: str = "",
) -> CommonOffer:
    """Pieces of the cooperative's lot are open to ``members``, or to all, at ``price`` of one; None: what it cost.

    Raises ValidationError by field.
    """
    for member in members:
        check_owner(organisation, members=member)
    check_count(quantity, field="quantity")
    lock_currency(organisation=organisation)
    current = _locked(organisation, lot)
    if current.owner_id:
        raise ValidationError(
            {
                "lot": gettext("The pieces of lot %(current)s are a member's own. Only yours can be opened.")
                % {"current": current}
            }
        )
    if quantity > current.free:
        raise ValidationError(
            {
                "quantity": gettext("Free of lot %(lot)s: %(pieces)s. Type no more than that.")
                % {"lot": current, "pieces": said_count(current.free, "piece")}
            }
        )
    if until and until < today_of(organisation=organisation):
        raise ValidationError({"until": gettext("Type a day from today on, or leave it empty.")})
    if CommonOffer.objects.filter(lot=current, ended_at=None).exists():
        raise ValidationError(
            {"lot": gettext("Lot %(current)s is open already. End that first.") % {"current": current}}
        )
    row = CommonOffer(
        organisation=organisation,
        lot=current,
        quantity=quantity,
        price=current.unit_cost if price is None else price,
        until=until,
        note=note.strip()[:200],
        made_by=user,
    )
    row.clean_fields(exclude=["organisation", "lot", "made_by"])
    row.save()
    row.members.set(members)
    return row


@needs(Act.PLAN)
@transaction.atomic
def end_offer(*, organisation: Organisation, user: User | None, offer: CommonOffer) -> CommonOffer:
    """Nobody wishes for more of it; wishes that are open stay so until they are answered."""
    _locked(organisation, offer.lot)
    row = CommonOffer.objects.of(organisation).select_for_update(of=("self",)).get(pk=offer.pk)
    if row.ended_at:
        raise ValidationError(gettext("This has ended already."))
    row.ended_at, row.ended_by = timezone.now(), user
    row.save(update_fields=["ended_at", "ended_by"])
    return row


def is_open_to(offer: CommonOffer, member: Member) -> bool:
    """By its day, and for whom it is; ``members`` of the offer are loaded or asked for."""
    chosen = [row.pk for row in offer.members.all()]
    over = offer.until is not None and offer.until < today_of(organisation=member.organisation)
    return (
        offer.organisation_id == member.organisation_id
        and offer.ended_at is None
        and not over
        and (not chosen or member.pk in chosen)
    )


@transaction.atomic
def wish_for(*, member: Member, user: User, offer: CommonOffer, quantity: int, note: str = "") -> CommonWish:
    """A member asks for so many, which are kept for it until the cooperative answers.

    Raises ValidationError by field.
    """
    check_acts_for(member=member, user=user)
    if CommonWish.objects.filter(member=member, state=State.OPEN, plan=None).count() >= MAX_OPEN:
        words = gettext("You wish for %(most)s things already. Withdraw some of them first.")
        raise ValidationError(words % {"most": MAX_OPEN})
    return keep_for(member=member, user=user, offer=offer, quantity=quantity, note=note)


@transaction.atomic
def keep_for(
    *,
    member: Member,
    user: User | None,
    offer: CommonOffer,
    quantity: int,
    note: str = "",
    had: bool = False,
    **asked_by: Any,
) -> CommonWish:
    """As ``wish_for``, by whoever may ask for it. ``had``: they were kept for it until this moment, so that they need
    not be open. ``asked_by``: plan, house and what for."""
    check_count(quantity, field="quantity")
    lot = _locked(member.organisation, offer.lot)
    row = CommonOffer.objects.of(member.organisation).select_for_update(of=("self",)).get(pk=offer.pk)
    if not had and not is_open_to(row, member):
        raise ValidationError(gettext("This is not open any more. Look at the page again."))
    free = min(row.free, lot.free)
    if quantity > free:
        words = ngettext(
            "%(pieces)s of it is free, so %(count)s cannot be kept for you. Type a smaller number.",
            "%(pieces)s of it are free, so %(count)s cannot be kept for you. Type a smaller number.",
            max(0, free),
        )
        given = {"pieces": said_count(max(0, free), "piece"), "count": format_count(quantity)}
        raise ValidationError({"quantity": words % given})
    wish = CommonWish(
        organisation=member.organisation,
        offer=row,
        member=member,
        quantity=quantity,
        price=row.price,
        note=note.strip()[:200],
        made_by=user,
        **asked_by,
    )
    wish.clean_fields(exclude=["organisation", "offer", "member", "made_by", "plan", "house", "wanted"])
    wish.save()
    _keep(row, quantity)
    return wish


@transaction.atomic
def withdraw_wish(*, member: Member, user: User, wish: CommonWish) -> CommonWish:
    """A member needs it no more. Raises ValidationError where it was answered meanwhile."""
    check_acts_for(member=member, user=user)
    if wish.member_id != member.pk:
        raise ValidationError(gettext("This is another member's."))
    return take_wish_back(member=member, user=user, wish=wish)


@transaction.atomic
def take_wish_back(*, member: Member, user: User | None, wish: CommonWish, why: str = "") -> CommonWish:
    """As ``withdraw_wish``, by whoever may."""
    return _answer(member.organisation, user, wish, State.WITHDRAWN, why)


@needs(Act.STOCK)
@transaction.atomic
def decline_wish(*, organisation: Organisation, user: User | None, wish: CommonWish, reason: str) -> CommonWish:
    """The pieces are free again. Raises ValidationError where it was answered meanwhile."""
    if not reason.strip():
        raise ValidationError({"reason": gettext("Say why in a few words, for example: needed for the north house.")})
    return _answer(organisation, user, wish, State.DECLINED, reason)


@needs(Act.STOCK)
@transaction.atomic
def give_wish(*, organisation: Organisation, user: User | None, wish: CommonWish) -> CommonWish:
    """The pieces leave the stock, the member owes them at the price of its wish, and a farm has them in its own stock
    at that price: in one press, or none of it. Raises ValidationError where it was answered meanwhile."""
    lock_currency(organisation=organisation)
    row = _answer(organisation, user, wish, State.GIVEN, "")
    amount = line_total(row.quantity, row.price, organisation.currency)
    what = f"{count_noun(row.quantity, 'piece')} of {row.offer.lot.material}"
    entry = NewEntry(
        row.member,
        today_of(organisation=organisation),
        MemberEntry.Kind.STOCK,
        what,
        amount,
        source=f"wish {row.pk}",
    )
    post_entries(organisation=organisation, user=user, entries=[entry])
    if farm := farm_of(member=row.member):
        row.farm_lot = _receive_at(farm, row, amount)
        row.save(update_fields=["farm_lot"])
        if row.farm_lot and row.plan_id and row.house_id:
            reserve_fetched(plan=row.plan_id, house=row.house_id, lot=row.farm_lot, wanted=row.wanted)
    return row


def _receive_at(farm: Organisation, wish: CommonWish, amount: Decimal) -> Lot | None:
    """Into the farm's own stock, where it knows the material by its code and counts in the same money; else None.

    By the machine: who presses is nobody of the farm.
    """
    lot = wish.offer.lot
    material = Material.objects.of(farm).filter(code=lot.material.code, archived_at=None).first()
    if material is None or material.by_length != (lot.length is not None):
        return None
    place, _ = Place.objects.get_or_create(organisation=farm, name="From the cooperative")
    same = farm.currency == wish.organisation.currency
    return receive_lot(
        organisation=farm,
        user=None,
        material=material,
        length=lot.length,
        offcut=lot.offcut,
        quantity=wish.quantity,
        place=place,
        received_on=today_of(organisation=farm),
        amount=amount if same else Decimal(0),
        reason=f"Common stock of {wish.organisation}",
        paper=f"Wish {wish.pk}",
    )


def _answer(
    organisation: Organisation, user: User | None, wish: CommonWish, state: CommonWish.State, answer: str
) -> CommonWish:
    """The wish is over and what was kept for it is free, or handed over, under the lock of its lot."""
    lot = _locked(organisation, wish.offer.lot)
    rows = CommonWish.objects.of(organisation).select_for_update(of=("self",))
    row = rows.select_related("offer__lot__material", "member__organisation", "organisation").get(pk=wish.pk)
    if row.state != State.OPEN:
        raise ValidationError(answered_words(row))
    given = row.quantity if state == State.GIVEN else 0
    _keep(row.offer, -row.quantity, given=given)
    if given:
        row.movement, _ = hand_to_member(
            organisation=organisation,
            user=user,
            lot=lot,
            quantity=given,
            member=row.member,
            reason=f"Wished for by {row.member}",
        )
    row.state, row.answered_at, row.answered_by, row.answer = state, timezone.now(), user, answer.strip()[:200]
    row.save(update_fields=["state", "answered_at", "answered_by", "answer", "movement"])
    return row


def _keep(offer: CommonOffer, quantity: int, given: int = 0) -> None:
    """So many more are kept of the lot, or fewer below zero; the database holds that they are there."""
    CommonOffer.objects.filter(pk=offer.pk).update(wished=F("wished") + quantity, given=F("given") + given)
    Lot.objects.filter(pk=offer.lot_id).update(promised=F("promised") + quantity)


def _locked(organisation: Organisation, lot: Lot) -> Lot:
    """Numbers of lots are locked before lots, as everywhere, since what is handed over may take one."""
    rows = Lot.objects.of(organisation).select_for_update(of=("self",)).select_related("material", "organisation")
    return rows.get(pk=lot.pk)


def owed_again(*, organisation: Organisation) -> dict[int, Decimal]:
    """What wishes that were handed over come to by member, worked out of their rows."""
    owed: dict[int, Decimal] = {}
    for row in CommonWish.objects.of(organisation).filter(state=State.GIVEN):
        amount = line_total(row.quantity, row.price, organisation.currency)
        owed[row.member_id] = owed.get(row.member_id, Decimal(0)) + amount
    return owed


def promised_again(*, organisation: Organisation) -> dict[int, int]:
    """By key of a lot, what open wishes keep of it: what ``Lot.promised`` has to be."""
    rows = CommonWish.objects.of(organisation).filter(state=State.OPEN).order_by()
    return dict(rows.values_list("offer__lot").annotate(sum=Sum("quantity")))
