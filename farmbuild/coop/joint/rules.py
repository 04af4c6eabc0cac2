"""What services of joint orders share: their locks, and what may still be done."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.models import MAX_QUANTITY, Material, check_length, check_longest
from farmbuild.common.templatetags.farm import day
from farmbuild.coop.joint.selectors import is_past
from farmbuild.coop.models import JointMember, JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User


def lock_joint(joint: JointOrder) -> JointOrder:
    """As it is now; nobody else puts in, closes or hands out until the transaction ends."""
    rows = JointOrder.objects.select_for_update(of=("self",), no_key=True)
    return rows.select_related("organisation", "delivery_site").get(pk=joint.pk, organisation=joint.organisation_id)


def check_own(organisation: Organisation, **rows: object) -> None:
    for name, row in rows.items():
        if getattr(row, "organisation_id", organisation.pk) != organisation.pk:
            raise ValidationError({name: gettext("Choose one from the list.")})


def check_days(joint: JointOrder, before: date | None) -> None:
    """``before``: its last day until now, which may have passed."""
    today = today_of(organisation=joint.organisation)
    if joint.closes_on < today and joint.closes_on != before:
        raise ValidationError(
            {"closes_on": gettext("That day has passed. Type %(today)s or a later day.") % {"today": day(today)}}
        )
    if joint.need_by < joint.closes_on:
        raise ValidationError(
            {
                "need_by": gettext("That is before %(closes_on)s. Type the same day or a later one.")
                % {"closes_on": day(joint.closes_on)}
            }
        )
    if joint.need_by > date(2100, 12, 31):
        raise ValidationError({"need_by": gettext("That is too far off. Type a day before the year 2101.")})


def check_not_closed(joint: JointOrder) -> None:
    if joint.ended_at:
        words = gettext("Joint order %(number)s was called off. Nothing of it changes any more.")
        raise ValidationError(words % {"number": joint.number})
    if joint.closed_at:
        words = gettext("Joint order %(number)s is closed, and what members want of it stays as it is.")
        raise ValidationError(words % {"number": joint.number})


def check_takes_more(joint: JointOrder) -> None:
    check_not_closed(joint)
    if is_past(joint):
        words = gettext("The last day of joint order %(number)s was %(day)s, so nothing more is put in.")
        raise ValidationError(words % {"number": joint.number, "day": day(joint.closes_on)})


def store_need(
    *,
    joint: JointOrder,
    member: Member,
    material: Material,
    length: Decimal | None,
    quantity: int,
    user: User | None,
    plan: int | None = None,
) -> JointNeed | None:
    """So many of this thing for the member, instead of what it wanted of it before; 0 takes it out.

    ``joint`` is held and takes more. Raises ValidationError by field.
    """
    check_own(joint.organisation, member=member, material=material)
    # As it is now: it may have been archived while this waited for the joint order.
    if Member.objects.filter(pk=member.pk).exclude(archived_at=None).exists():
        raise ValidationError(
            {"member": gettext("%(member)s is archived. Choose another member.") % {"member": member}}
        )
    if material.archived_at:
        words = gettext("%(material)s is archived. Choose another material.") % {"material": material}
        raise ValidationError({"material": words})
    check_length(material, length)
    check_longest(material, length)
    if not 0 <= quantity <= MAX_QUANTITY:
        words = gettext("Type a whole number from 0 to %(most)s.") % {"most": format_count(MAX_QUANTITY)}
        raise ValidationError({"quantity": words})
    mine = JointNeed.objects.filter(joint=joint, member=member)
    need = mine.filter(material=material, length=length).first()
    if not quantity:
        if need:
            need.delete()
            if not mine.exists():
                JointMember.objects.filter(joint=joint, member=member).delete()
        return None
    if need and (need.quantity, need.plan) == (quantity, plan):
        return need
    if not JointMember.objects.filter(joint=joint, member=member).exists():
        last = max(joint.members.values_list("position", flat=True), default=0)
        JointMember.objects.create(joint=joint, member=member, position=last + 1)
    need = need or JointNeed(joint=joint, member=member, material=material, length=length)
    need.quantity, need.plan, need.put_in_by = quantity, plan, user
    need.save()
    return need
