"""Writes of joint orders: made, filled, closed once, opened again while nothing went out, charged to members."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.buying.drafting.services import add_line, create_draft
from farmbuild.buying.drafting.store import lock_organisation
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.sending import cancel_order
from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.coop.books.services import NewEntry, post_entries
from farmbuild.coop.joint.bridge import Order, pack
from farmbuild.coop.joint.handing import hand_out, take_handout_back
from farmbuild.coop.joint.offers import preview_of
from farmbuild.coop.joint.rules import (
    check_days,
    check_not_closed,
    check_own,
    check_takes_more,
    lock_joint,
    store_need,
)
from farmbuild.coop.joint.selectors import orders_of
from farmbuild.coop.joint.splitting import all_entries_of, entries_of, source_of, split_of
from farmbuild.coop.models import JointMember, JointNeed, JointOrder, JointPurchase, MemberEntry
from farmbuild.crew.models import Member
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

__all__ = [
    "call_off_joint",
    "change_joint",
    "charge_members",
    "close_joint",
    "create_joint",
    "hand_out",
    "order_members",
    "put_in",
    "reopen_joint",
    "take_handout_back",
]

State = PurchaseOrder.State
Rule = JointOrder.DamageRule


@needs(Act.PLAN)
@transaction.atomic
def create_joint(
    *,
    organisation: Organisation,
    user: User | None,
    title: str,
    closes_on: date,
    need_by: date,
    delivery_site: Site,
    damage_rule: str = Rule.LISTED,
    note: str = "",
) -> JointOrder:
    """With the next number. Raises ValidationError by field."""
    organisation = lock_organisation(organisation)
    last = JointOrder.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    joint = JointOrder(organisation=organisation, number=last + 1, made_by=user)
    return _save(joint, title, closes_on, need_by, delivery_site, damage_rule, note)


@needs(Act.PLAN)
@transaction.atomic
def change_joint(
    *,
    organisation: Organisation,
    user: User | None,
    joint: JointOrder,
    title: str,
    closes_on: date,
    need_by: date,
    delivery_site: Site,
    damage_rule: str,
    note: str = "",
) -> JointOrder:
    """While it is not closed; a later last day opens one that is past. Raises ValidationError by field."""
    current = _held(organisation, joint)
    check_not_closed(current)
    return _save(current, title, closes_on, need_by, delivery_site, damage_rule, note)


def _save(
    joint: JointOrder, title: str, closes_on: date, need_by: date, site: Site, damage_rule: str, note: str
) -> JointOrder:
    check_own(joint.organisation, delivery_site=site)
    before = joint.closes_on if joint.pk else None
    joint.title, joint.note = " ".join(title.split()), " ".join(note.split())
    joint.closes_on, joint.need_by, joint.delivery_site = closes_on, need_by, site
    joint.damage_rule = damage_rule
    joint.full_clean(exclude=["organisation", "made_by", "closed_by", "ended_by", "market"])
    check_days(joint, before)
    joint.save()
    return joint


def _held(organisation: Organisation, joint: JointOrder) -> JointOrder:
    check_own(organisation, joint=joint)
    return lock_joint(joint)


@needs(Act.PLAN)
@transaction.atomic
def put_in(
    *,
    organisation: Organisation,
    user: User | None,
    joint: JointOrder,
    member: Member,
    material: Material,
    length: Decimal | None,
    quantity: int,
) -> JointNeed | None:
    """What the member wants of this thing from now on; 0 takes it out, and the same again changes nothing."""
    current = _held(organisation, joint)
    check_takes_more(current)
    return store_need(joint=current, member=member, material=material, length=length, quantity=quantity, user=user)


@needs(Act.PLAN)
@transaction.atomic
def order_members(
    *, organisation: Organisation, user: User | None, joint: JointOrder, members: Sequence[int]
) -> list[JointMember]:
    """The list of members (their keys) in another order. Raises ValidationError where it is not just them."""
    current = _held(organisation, joint)
    check_not_closed(current)
    rows = {row.member_id: row for row in current.members.all()}
    if len(members) != len(rows) or set(members) != rows.keys():
        raise ValidationError(gettext("Members came or went while this page was open. Look at the list again."))
    for position, key in enumerate(members, start=1):
        rows[key].position = position
    JointMember.objects.bulk_update(rows.values(), ["position"])
    return [rows[key] for key in members]


@needs(Act.PLAN)
@transaction.atomic
def close_joint(
    *, organisation: Organisation, user: User | None, joint: JointOrder, seen: str | None = None
) -> list[PurchaseOrder]:
    """What members want is frozen, and the best offers for it become drafts, one a supplier.

    ``seen``: of the preview that the user looked at; None: whatever it comes to. Raises ValidationError.
    """
    # Worked out before anything is held; what is asked again below is then known.
    preview_of(joint)
    lock_currency(organisation=organisation)
    organisation = lock_organisation(organisation)
    current = _held(organisation, joint)
    check_not_closed(current)
    current.organisation = organisation
    found = preview_of(current)
    if not current.needs.exists():
        raise ValidationError(gettext("No member wants anything yet. Put something in, or call it off."))
    if found.not_offered:
        raise ValidationError(
            [*found.not_offered, gettext("Take it out, or add an offer of a supplier, then close the joint order.")]
        )
    if seen is not None and seen != found.seen:
        raise ValidationError(
            gettext("What members want, or an offer, changed while this page was open. Look at it again.")
        )
    current.closed_at, current.closed_by, current.market = timezone.now(), user, pack(found.market)
    rows = {row.member_id: row for row in current.members.all()}
    for one in found.rows:
        if one.member:
            rows[one.member.pk].alone, rows[one.member.pk].foreseen = one.alone, one.together
    JointMember.objects.bulk_update(rows.values(), ["alone", "foreseen"])
    current.save(update_fields=["closed_at", "closed_by", "market"])
    made = [_draft(organisation, user, current, order) for order in found.orders]
    JointPurchase.objects.bulk_create(JointPurchase(joint=current, order=order) for order in made)
    return made


def _draft(organisation: Organisation, user: User | None, joint: JointOrder, planned: Order) -> PurchaseOrder:
    supplier = Supplier.objects.of(organisation).get(code=planned.supplier)
    order = create_draft(
        organisation=organisation,
        user=user,
        supplier=supplier,
        delivery_site=joint.delivery_site,
        need_by=joint.need_by,
    )
    for line in planned.lines:
        offer = Offer.objects.of(organisation).select_related("material__organisation").get(pk=line.offer.split("-")[1])
        add_line(
            organisation=organisation,
            user=user,
            order=order,
            quantity=line.quantity,
            need_by=joint.need_by,
            offer=offer,
        )
    return PurchaseOrder.objects.get(pk=order.pk)


@needs(Act.PLAN)
@transaction.atomic
def reopen_joint(*, organisation: Organisation, user: User | None, joint: JointOrder, reason: str) -> JointOrder:
    """Open again while none of its orders went out; its drafts are cancelled. Raises ValidationError."""
    reason = _reason(reason, gettext("one member is missing"))
    organisation = lock_organisation(organisation)
    current = _held(organisation, joint)
    if not current.closed_at:
        raise ValidationError(gettext("Joint order %(current)s is open already.") % {"current": current.number})
    orders = orders_of(current)
    for order in orders:
        if order.state == State.DRAFT:
            cancel_order(organisation=organisation, user=user, order=order, reason=reason)
    # Looked at again: an order may have gone out while its lock was waited for.
    if sent := orders_of(current):
        raise ValidationError(
            gettext("Orders went out, so the joint order stays closed: %(orders)s.")
            % {"orders": ", ".join(order.number for order in sent)}
        )
    if entries_of(current).exists():
        raise ValidationError(gettext("Members were charged for it. Take those entries back in their accounts first."))
    current.closed_at, current.closed_by, current.market = None, None, None
    current.save(update_fields=["closed_at", "closed_by", "market"])
    JointMember.objects.filter(joint=current).update(alone=None, foreseen=None)
    return current


@needs(Act.PLAN)
@transaction.atomic
def call_off_joint(*, organisation: Organisation, user: User | None, joint: JointOrder, reason: str) -> JointOrder:
    """Nothing is bought. What members wanted stays to be read. Raises ValidationError once it is closed."""
    reason = _reason(reason, gettext("too few members want something"))
    current = _held(organisation, joint)
    check_not_closed(current)
    current.ended_at, current.ended_by, current.end_reason = timezone.now(), user, reason[:200]
    current.save(update_fields=["ended_at", "ended_by", "end_reason"])
    return current


def _reason(text: str, example: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise ValidationError(
            {"reason": gettext("Say why in a few words, for example: %(example)s.") % {"example": example}}
        )
    return text


@needs(Act.PLAN)
@transaction.atomic
def charge_members(
    *, organisation: Organisation, user: User | None, joint: JointOrder, day: date, seen: str | None = None
) -> list[MemberEntry]:
    """Post in each member's account what it owes by all that is known now, less what was posted before.

    ``seen``: of the page that the user looked at. Raises ValidationError where nothing went out yet, nothing is left to
    post, or other amounts are known by now.
    """
    organisation = lock_organisation(organisation)
    current = _held(organisation, joint)
    found = split_of(current)
    if not found.went_out:
        raise ValidationError(gettext("No order of it went out yet. Send its orders, then charge the members."))
    if seen is not None and seen != found.seen:
        raise ValidationError(
            gettext("Amounts changed while this page was open. Look at them again, then charge the members.")
        )
    if not any(row.to_post for row in found.rows if row.member):
        raise ValidationError(gettext("All that is known of it stands in the members' accounts already."))
    part = all_entries_of(current).order_by().values("source").distinct().count() + 1
    source = source_of(current, part)
    what = f"{current}" if part == 1 else f"{current}, difference"
    return post_entries(
        organisation=organisation,
        user=user,
        entries=[
            NewEntry(row.member, day, MemberEntry.Kind.ORDER, what, row.to_post, source)
            for row in found.rows
            if row.member
        ],
    )
