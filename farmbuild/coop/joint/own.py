"""What a member does itself in a joint order: puts in, by hand or from its farm's plan, and takes over what it got."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.catalogue.models import Material
from farmbuild.common.speaking import said_list
from farmbuild.coop.joint.plans import matching_in, plan_needs_of
from farmbuild.coop.joint.rules import check_takes_more, lock_joint, store_need
from farmbuild.coop.joint.selectors import handouts_of, still_to_take_over
from farmbuild.coop.joint.splitting import SplitPage, item_of_handout, split_of
from farmbuild.coop.members.seeing import check_acts_for
from farmbuild.coop.members.selectors import farm_of
from farmbuild.coop.models import Handout, JointNeed, JointOrder, TakenOver
from farmbuild.crew.models import Member
from farmbuild.history.recording import recorded
from farmbuild.measure import round_money
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import User
from farmbuild.stock.models import Place
from farmbuild.stock.services import place_named, receive_lot


def _held(member: Member, user: User, joint: JointOrder) -> JointOrder:
    check_acts_for(member=member, user=user)
    if joint.organisation_id != member.organisation_id:
        raise ValidationError(gettext("This joint order is another cooperative's."))
    return lock_joint(joint)


def put_in_own(
    *, member: Member, user: User, joint: JointOrder, material: Material, length: Decimal | None, quantity: int
) -> JointNeed | None:
    """What it wants of this thing from now on; 0 takes it out. Raises ValidationError, by field where there is one, and
    PermissionDenied where ``user`` is nobody of the member."""
    with transaction.atomic(), recorded(organisation=member.organisation, user=user):
        current = _held(member, user, joint)
        check_takes_more(current)
        return store_need(joint=current, member=member, material=material, length=length, quantity=quantity, user=user)


def put_plan_in(*, member: Member, user: User, joint: JointOrder, plan: int, seen: str) -> list[JointNeed]:
    """All that its farm's accepted plan has still to buy, instead of what was put in of a plan before.

    ``plan`` and ``seen``: of the page. Pressed again it changes nothing. Raises ValidationError.
    """
    with transaction.atomic(), recorded(organisation=member.organisation, user=user):
        current = _held(member, user, joint)
        check_takes_more(current)
        return store_plan(current, member, plan, seen, user)


def store_plan(joint: JointOrder, member: Member, plan: int, seen: str, user: User | None) -> list[JointNeed]:
    """The same for whoever may, of a joint order that is held and takes more. Raises ValidationError."""
    found = plan_needs_of(member=member, joint=joint)
    if (found.plan, found.seen) != (plan, seen):
        raise ValidationError(
            gettext("The plan of %(member)s, or its orders, changed while this page was open. Look at it again.")
            % {"member": member}
        )
    if not found.rows:
        raise ValidationError(
            gettext("The plan of %(member)s has nothing to buy that the cooperative has too.") % {"member": member}
        )
    wanted = {(row.material.pk, row.length) for row in found.rows}
    for old in JointNeed.objects.filter(joint=joint, member=member).exclude(plan=None).select_related("material"):
        if (old.material_id, old.length) not in wanted:
            store_need(joint=joint, member=member, material=old.material, length=old.length, quantity=0, user=user)
    stored = [
        store_need(
            joint=joint,
            member=member,
            material=row.material,
            length=row.length,
            quantity=row.quantity,
            user=user,
            plan=plan,
        )
        for row in found.rows
    ]
    return [need for need in stored if need]


def take_over(*, member: Member, user: User, joint: JointOrder, place: Place, day: date) -> list[TakenOver]:
    """All pieces handed out to it that its farm has not taken over come into the farm's stock, at what it owes.

    Once: pressed again there is nothing more. ``place`` is the farm's. Raises ValidationError.
    """
    with transaction.atomic():
        current = _held(member, user, joint)
        farm = farm_of(member=member)
        if farm is None:
            raise ValidationError(gettext("No farm on this site is linked with %(member)s.") % {"member": member})
        if place.organisation_id != farm.pk:
            raise ValidationError({"place": gettext("Choose one from the list.")})
        if day > today_of(organisation=farm):
            raise ValidationError({"day": gettext("That day is still to come. Type today or an earlier day.")})
        if farm.currency != member.organisation.currency:
            raise ValidationError(
                gettext(
                    "%(organisation)s counts in %(currency)s and %(farm)s in %(currency2)s, so what the pieces "
                    "cost cannot be taken over. Receive them as a lot of your own, with its cost."
                )
                % {
                    "organisation": member.organisation,
                    "currency": member.organisation.currency,
                    "farm": farm,
                    "currency2": farm.currency,
                }
            )
        every = handouts_of(current, member)
        rows = still_to_take_over(current, member)
        if not rows:
            raise ValidationError(gettext("All that was handed out is in the farm's stock already."))
        own = {row.pk: matching_in(farm, row.material) for row in rows}
        if missing := sorted({row.material.name for row in rows if own[row.pk] is None}):
            raise ValidationError(
                gettext("%(farm)s has no material that is the same as %(missing)s. Add it to its materials first.")
                % {"farm": farm, "missing": said_list(missing)}
            )
        costs = costs_of_handouts(split_of(current), every, farm.currency, member)
        made = []
        for row in rows:
            lot = receive_lot(
                organisation=farm,
                user=user,
                material=own[row.pk],
                length=row.length,
                quantity=row.quantity,
                place=place,
                received_on=day,
                amount=costs[row.pk],
                reason=f"{member.organisation}, {current}"[:200],
                paper=f"Joint order {current.number}",
            )
            made.append(TakenOver(handout=row, lot=lot, amount=costs[row.pk], by=user))
        return TakenOver.objects.bulk_create(made)


def take_over_at(*, member: Member, user: User, joint: JointOrder, place: str, day: date) -> list[TakenOver]:
    """As ``take_over``, with the name of a place at the farm, there already or new."""
    with transaction.atomic():
        check_acts_for(member=member, user=user)
        farm = farm_of(member=member)
        if farm is None:
            raise ValidationError(gettext("No farm on this site is linked with %(member)s.") % {"member": member})
        there = place_named(organisation=farm, user=user, name=place)
        return take_over(member=member, user=user, joint=joint, place=there, day=day)


def costs_of_handouts(page: SplitPage, rows: Sequence[Handout], currency: str, member: Member) -> dict[int, Decimal]:
    """By key of each handout what the member owes for its pieces, by what all up to it and all before it come to.

    ``rows``: all of the member that stand, in their order, so that the parts add up to what it owes.
    """
    mine = next(row for row in page.rows if row.member == member)
    owed: dict[object, Decimal] = defaultdict(Decimal)
    for k, line in enumerate(page.lines):
        owed[line.item] += mine.share.owes_of(k)
    before: dict[object, int] = defaultdict(int)
    found = {}
    for row in rows:
        item = item_of_handout(row)
        pieces, first = mine.share.got.get(item, 0), before[item]
        before[item] += row.quantity
        if pieces:
            until, since = (round_money(owed[item] * count / pieces, currency) for count in (before[item], first))
            found[row.pk] = until - since
        else:
            found[row.pk] = Decimal(0)
    return found
