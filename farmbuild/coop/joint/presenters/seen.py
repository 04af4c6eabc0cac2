"""What a member sees of joint orders: its own, and nothing of others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.templatetags.farm import day
from farmbuild.coop.joint import selectors
from farmbuild.coop.joint.drawings import Bar, Bars, bars_drawn
from farmbuild.coop.joint.handing import HandingRow, handing_of
from farmbuild.coop.joint.offers import preview_of
from farmbuild.coop.joint.plans import plan_needs_of
from farmbuild.coop.joint.presenters.split import sums_of
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.joint.words import STATES, item_words, own_answer
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import amounts_shown, format_count

#: Codes of states before anything is ordered.
BEFORE = ("open", "past", "ended")


@dataclass(frozen=True)
class SeenPage:
    """``sums``: (words, amount) in the currency of the cooperative, none where the reader sees no costs."""

    is_open: bool
    has_come: bool
    has_plan: bool
    answer: str
    bars: SafeString | str
    caption: str
    goods: Sequence[dict[str, Any]]
    sums: Sequence[tuple[str, Decimal]]


def own_needs_of(*, joint: JointOrder, member: Member) -> list[JointNeed]:
    return [need for need in selectors.needs_of(joint) if need.member_id == member.pk]


def own_need_or_none(*, joint: JointOrder, member: Member, pk: int) -> JointNeed | None:
    return next((need for need in own_needs_of(joint=joint, member=member) if need.pk == pk), None)


def seen_page(*, joint: JointOrder, member: Member) -> SeenPage:
    code = selectors.state_of(joint).code
    own = own_needs_of(joint=joint, member=member)
    rows = [] if code in BEFORE else handing_of(joint)
    handing = {row.need.pk: row for row in rows if row.need.member_id == member.pk}
    came, handed = sum(row.due for row in handing.values()), sum(row.handed for row in handing.values())
    is_open, has_come = code == "open", bool(came)
    return SeenPage(
        is_open=is_open,
        has_come=has_come,
        has_plan=is_open and bool(plan_needs_of(member=member, joint=joint).rows),
        answer=own_answer(joint, code, sum(need.quantity for need in own), came, handed),
        bars=_bars(joint, own, handing if has_come else {}),
        caption=_caption(has_come),
        goods=[_goods(joint, need, handing.get(need.pk), is_open) for need in own],
        sums=_sums(joint, member, code) if own and amounts_shown() else (),
    )


def _caption(has_come: bool) -> str:
    return gettext("Filled: handed out to you. Dashed: not yet.") if has_come else gettext("Pieces that you need.")


def _bars(joint: JointOrder, own: Sequence[JointNeed], handing: dict[int, HandingRow]) -> SafeString | str:
    bars = [
        Bars(
            item_words(need.material, need.length, joint.organisation),
            [Bar(gettext("yours"), need.quantity, handing[need.pk].handed if need.pk in handing else None)],
        )
        for need in own
    ]
    return bars_drawn(bars, gettext("What you need of it"))


def _goods(joint: JointOrder, need: JointNeed, row: HandingRow | None, is_open: bool) -> dict[str, Any]:
    url = reverse("coop:seen-joint-change", args=[joint.organisation.slug, joint.number, need.pk]) if is_open else None
    return {
        "what": item_words(need.material, need.length, joint.organisation),
        "quantity": need.quantity,
        "due": row.due if row else None,
        "handed": row.handed if row else None,
        "url": url,
    }


def _sums(joint: JointOrder, member: Member, code: str) -> list[tuple[str, Decimal]]:
    if code == "ended":
        return []
    if code in BEFORE:
        found = next((row for row in preview_of(joint).rows if row.member and row.member.pk == member.pk), None)
        if found is None or not found.alone:
            return []
        return [
            (gettext("Together with the others"), found.together),
            (gettext("Alone"), found.alone),
            (gettext("You save"), found.saving),
        ]
    own = next((row for row in split_of(joint).rows if row.member and row.member.pk == member.pk), None)
    return sums_of(own, joint.organisation.tax_name, own=True)


@dataclass(frozen=True)
class PlanPage:
    number: int | None
    rows: Sequence[dict[str, Any]]
    unmatched: Sequence[str]
    seen: str


def plan_page(*, joint: JointOrder, member: Member) -> PlanPage:
    found = plan_needs_of(member=member, joint=joint)
    rows = [{"what": row.words, "quantity": row.quantity} for row in found.rows]
    return PlanPage(found.plan, rows, found.unmatched, found.seen)


def seen_rows(joints: Sequence[JointOrder], member: Member) -> list[dict[str, Any]]:
    """A row each, with the pieces that are the member's."""
    sums = JointNeed.objects.filter(joint__in=joints, member=member).values_list("joint").annotate(Sum("quantity"))
    pieces = dict(sums)
    states = selectors.states_of(joints)
    return [
        {
            "title": joint.title,
            "state": str(STATES[states[joint.pk].code]),
            "closes_on": joint.closes_on,
            "need_by": joint.need_by,
            "pieces": pieces.get(joint.pk, 0),
            "url": reverse("coop:seen-joint", args=[member.organisation.slug, joint.number]),
        }
        for joint in joints
    ]


def seen_answer(joints: Sequence[JointOrder], today: date) -> str:
    takes = [row for row in joints if row.closed_at is None and row.ended_at is None and row.closes_on >= today]
    if not takes:
        return gettext("No joint order takes anything at present.")
    first = min(takes, key=lambda row: row.closes_on)
    words = gettext("One joint order is open to you until %(day)s.")
    if len(takes) > 1:
        words = gettext("%(count)s joint orders are open to you; the first closes on %(day)s.")
    return words % {"count": format_count(len(takes)), "day": day(first.closes_on)}
