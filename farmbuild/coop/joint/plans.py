"""What a member's farm is about to buy for its accepted plan, in the cooperative's materials."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.selectors import materials_of
from farmbuild.coop.joint.bridge import digest_of, item_words
from farmbuild.coop.members.selectors import farm_of
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan


@dataclass(frozen=True)
class PlanNeed:
    """Pieces that the farm would buy, as the cooperative's ``material``; ``there``: of it in the joint order now."""

    material: Material
    length: Decimal | None
    quantity: int
    words: str
    there: int


@dataclass(frozen=True)
class PlanNeeds:
    """``plan``: its number, None where no farm is linked or none of its plans is accepted. ``unmatched``: sentences."""

    plan: int | None
    rows: tuple[PlanNeed, ...]
    unmatched: tuple[str, ...]
    seen: str


def plan_needs_of(*, member: Member, joint: JointOrder) -> PlanNeeds:
    """Of the drafts of the newest accepted plan of its farm; what has gone out is not bought twice."""
    farm = farm_of(member=member)
    plans = Plan.objects.of(farm).filter(accepted_at__isnull=False, released_at=None) if farm else Plan.objects.none()
    plan = plans.defer("inputs", "result").order_by("-accepted_at", "-pk").first()
    if farm is None or plan is None:
        return PlanNeeds(None, (), (), digest_of())
    lines = PurchaseOrderLine.objects.filter(order__plan=plan, order__state=PurchaseOrder.State.DRAFT)
    ours = list(materials_of(organisation=member.organisation).filter(archived_at=None))
    there = {
        (need.material_id, need.length): need.quantity for need in JointNeed.objects.filter(joint=joint, member=member)
    }
    summed: dict[tuple[Material, Decimal | None], int] = {}
    unmatched: dict[str, int] = {}
    for line in lines.select_related("material").order_by("order", "position"):
        if found := same_of(line.material, ours):
            summed[found, line.length] = summed.get((found, line.length), 0) + line.needed
        else:
            words = item_words(line.material.name, line.length, farm)
            unmatched[words] = unmatched.get(words, 0) + line.needed
    rows = tuple(
        PlanNeed(
            material,
            length,
            quantity,
            item_words(material.name, length, member.organisation),
            there.get((material.pk, length), 0),
        )
        for (material, length), quantity in summed.items()
    )
    told = tuple(
        gettext("%(words)s: %(count)s wanted, and %(organisation)s has no such material. Ask there for it.")
        % {"words": words, "count": format_count(count), "organisation": member.organisation}
        for words, count in unmatched.items()
    )
    seen = digest_of(plan.pk, [(row.material.pk, row.length, row.quantity) for row in rows], told)
    return PlanNeeds(plan.number, rows, told, seen)


def same_of(material: Material, others: Sequence[Material]) -> Material | None:
    """The one of ``others`` that is the same thing: of one kind, size and end; of several that of the same short name.

    What has no size is the same by its short name or its name.
    """

    def alike(other: Material) -> bool:
        if (other.kind, other.swaged) != (material.kind, material.swaged):
            return False
        if material.width is None:
            named = {material.code, material.name.casefold()}
            return other.width is None and bool(named & {other.code, other.name.casefold()})
        return (other.width, other.thickness) == (material.width, material.thickness)

    found = [other for other in others if alike(other)]
    return next((other for other in found if other.code == material.code), found[0] if len(found) == 1 else None)


def matching_in(farm: Organisation, material: Material) -> Material | None:
    """The farm's own material that is the same thing as the cooperative's."""
    return same_of(material, list(materials_of(organisation=farm).filter(archived_at=None)))
