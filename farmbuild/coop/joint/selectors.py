"""Reads of joint orders, what members want of them, and what they were handed out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.common.templatetags.farm import day
from farmbuild.coop.models import Handout, JointMember, JointNeed, JointOrder, JointPurchase
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation

State = PurchaseOrder.State


def joints_of(*, organisation: Organisation) -> QuerySet[JointOrder]:
    """Newest first, with ``people`` and ``wanted``: members that want something, and rows of what they want."""
    rows = JointOrder.objects.of(organisation).select_related("organisation", "delivery_site")
    # Said once more: sums by group leave the order of the model out.
    return rows.annotate(people=Count("needs__member", distinct=True), wanted=Count("needs")).order_by("-number")


def open_joints_of(*, organisation: Organisation) -> QuerySet[JointOrder]:
    """Those into which something can be put today."""
    today = today_of(organisation=organisation)
    return joints_of(organisation=organisation).filter(closed_at=None, ended_at=None, closes_on__gte=today)


def joint_numbered(*, organisation: Organisation, number: int) -> JointOrder:
    """Raises JointOrder.DoesNotExist."""
    return joints_of(organisation=organisation).get(number=number)


def joints_of_member(*, member: Member) -> QuerySet[JointOrder]:
    """Those that are open, and those in which the member has something."""
    organisation = member.organisation
    mine = Exists(JointNeed.objects.filter(joint=OuterRef("pk"), member=member))
    still = Q(closed_at=None, ended_at=None, closes_on__gte=today_of(organisation=organisation))
    return joints_of(organisation=organisation).filter(still | mine)


@dataclass(frozen=True)
class JointState:
    """``code``: open, past, closed, sent, arriving, arrived or ended."""

    code: str
    words: str


def orders_of(joint: JointOrder) -> list[PurchaseOrder]:
    """Those of its purchase orders that nobody cancelled, in the order in which they were made."""
    rows = PurchaseOrder.objects.of(joint.organisation).filter(joint_purchase__joint=joint)
    return list(rows.exclude(state=State.CANCELLED).select_related("supplier").order_by("joint_purchase__pk"))


def state_of(joint: JointOrder) -> JointState:
    """By the clock of the organisation; a joint order past its day is so with nobody having looked."""
    return _state(joint, {order.state for order in orders_of(joint)} if joint.closed_at else set())


def states_of(joints: Collection[JointOrder]) -> dict[int, JointState]:
    """By the key of each, in one query."""
    rows = JointPurchase.objects.filter(joint__in=joints).exclude(order__state=State.CANCELLED)
    found: dict[int, set[str]] = defaultdict(set)
    for key, state in rows.order_by().values_list("joint", "order__state"):
        found[key].add(state)
    return {joint.pk: _state(joint, found[joint.pk]) for joint in joints}


def _state(joint: JointOrder, states: set[str]) -> JointState:
    if joint.ended_at:
        return JointState("ended", gettext("Called off."))
    if not joint.closed_at:
        if is_past(joint):
            return JointState(
                "past",
                gettext("Its last day was %(closes_on)s. Close it to make its orders.")
                % {"closes_on": day(joint.closes_on)},
            )
        return JointState(
            "open", gettext("Members put in what they want until %(closes_on)s.") % {"closes_on": day(joint.closes_on)}
        )
    if not states & {State.SENT, State.PART, State.RECEIVED}:
        return JointState("closed", gettext("Closed. Its orders wait to be sent."))
    if states <= {State.RECEIVED}:
        return JointState("arrived", gettext("All of it has come."))
    if states & {State.PART, State.RECEIVED}:
        return JointState("arriving", gettext("Some of it has come."))
    return JointState("sent", gettext("On order."))


def is_past(joint: JointOrder) -> bool:
    return joint.closes_on < today_of(organisation=joint.organisation)


def needs_of(joint: JointOrder) -> list[JointNeed]:
    """In the order of the list of members, then by material and length."""
    places = {row.member_id: row.position for row in joint.members.all()}
    rows = joint.needs.select_related("member", "material__organisation")
    return sorted(rows, key=lambda need: places.get(need.member_id, 0))


def members_of(joint: JointOrder) -> list[JointMember]:
    """As listed."""
    return list(joint.members.select_related("member"))


def handouts_of(joint: JointOrder, member: Member | None = None) -> list[Handout]:
    """Those that stand, first handed out first."""
    rows = standing_handouts(joint).select_related("member", "material", "movement__lot", "by", "taken_over")
    return list(rows.filter(member=member) if member else rows)


def standing_handouts(joint: JointOrder) -> QuerySet[Handout]:
    return Handout.objects.filter(joint=joint, reverses=None, reversed_by=None)


def pieces_of(rows: Sequence[Handout]) -> int:
    return sum(row.quantity for row in rows)


def still_to_take_over(joint: JointOrder, member: Member) -> list[Handout]:
    """Handed out to the member and not in its farm's stock yet."""
    return [row for row in handouts_of(joint, member) if not hasattr(row, "taken_over")]
