"""What the page of one joint order shows, and the list of all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import QuerySet, Sum
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.common.templatetags.farm import day
from farmbuild.coop.joint import selectors
from farmbuild.coop.joint.drawings import Bar, Bars, bars_drawn
from farmbuild.coop.joint.handing import HandingRow, handing_of
from farmbuild.coop.joint.splitting import SplitPage, SplitRow, split_of
from farmbuild.coop.joint.words import STATES, Facts, answer_of, item_words
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation

#: Of JointState.code.
BEFORE = ("open", "past")


class Button(NamedTuple):
    label: str
    url: str


class OrderLine(NamedTuple):
    number: str
    supplier: str
    state: str
    total: Decimal
    url: str


@dataclass(frozen=True)
class JointPage:
    code: str
    answer: str
    main: Button | None
    more: Sequence[Button]
    bars: SafeString | str
    caption: str
    warning: str
    needs: Sequence[JointNeed]
    orders: Sequence[OrderLine]
    shares: Sequence[dict[str, Any]]
    remarks: Sequence[str]

    @property
    def is_open(self) -> bool:
        return self.code in BEFORE


def list_answer(*, organisation: Organisation) -> str:
    """The first sentence of the list."""
    days = sorted(selectors.open_joints_of(organisation=organisation).values_list("closes_on", flat=True))
    if not days:
        return gettext("No joint order is open.")
    if len(days) == 1:
        return gettext("One joint order is open; it closes on %(closes_on)s.") % {"closes_on": day(days[0])}
    return gettext("%(rows)s joint orders are open; the first closes on %(closes_on)s.") % {
        "rows": format_count(len(days)),
        "closes_on": day(days[0]),
    }


def listed(*, organisation: Organisation) -> QuerySet[JointOrder]:
    """Newest first, with ``people`` and ``pieces``."""
    return selectors.joints_of(organisation=organisation).annotate(pieces=Coalesce(Sum("needs__quantity"), 0))


def states_of(joints: Iterable[JointOrder]) -> dict[int, str]:
    return {key: str(STATES[state.code]) for key, state in selectors.states_of(list(joints)).items()}


def need_or_none(*, joint: JointOrder, pk: int) -> JointNeed | None:
    return next((need for need in selectors.needs_of(joint) if need.pk == pk), None)


def joint_page(*, joint: JointOrder) -> JointPage:
    code = selectors.state_of(joint).code
    needs = selectors.needs_of(joint)
    purchases = selectors.orders_of(joint) if joint.closed_at else []
    split = split_of(joint) if joint.closed_at else None
    handing = handing_of(joint) if joint.closed_at else []
    facts = _facts(needs, purchases, split, handing)
    return JointPage(
        code=code,
        answer=answer_of(joint, code, facts, joint.organisation.currency),
        main=_main(joint, code, facts, purchases, handing),
        more=_more(joint, code, facts),
        bars=_bars(joint, needs, handing),
        caption=gettext("Filled: handed out. Dashed: not handed out.")
        if facts.came
        else gettext("Pieces that each needs."),
        warning=_warning(joint, code, facts),
        needs=needs,
        orders=[_order_line(order) for order in purchases],
        shares=_shares(joint, split.rows, handing) if split and facts.came else (),
        remarks=split.remarks if split else (),
    )


def _facts(
    needs: Sequence[JointNeed],
    purchases: Sequence[PurchaseOrder],
    split: SplitPage | None,
    handing: Sequence[HandingRow],
) -> Facts:
    return Facts(
        members=len({need.member_id for need in needs}),
        pieces=sum(need.quantity for need in needs),
        came=sum(line.good for line in lines_of_orders(purchases)),
        handed=sum(row.handed for row in handing),
        orders=len(purchases),
        drafts=sum(order.state == PurchaseOrder.State.DRAFT for order in purchases),
        waiting=len({row.need.member_id for row in handing if row.left}),
        total=split.total if split else None,
        unposted=split is not None and split.went_out and any(row.to_post for row in split.rows if row.member),
    )


def lines_of_orders(purchases: Sequence[PurchaseOrder]) -> QuerySet[PurchaseOrderLine]:
    return PurchaseOrderLine.objects.filter(order__in=purchases)


def _order_line(order: PurchaseOrder) -> OrderLine:
    name = order.supplier.name
    return OrderLine(order.number, name, order.get_state_display().lower(), order.total, order.get_absolute_url())


def _at(name: str, joint: JointOrder, *args: Any) -> str:
    return reverse(f"coop:{name}", args=[joint.number, *args])


def _main(
    joint: JointOrder,
    code: str,
    facts: Facts,
    purchases: Sequence[PurchaseOrder],
    handing: Sequence[HandingRow],
) -> Button | None:
    """What comes next in this phase."""
    if code == "ended":
        return Button(gettext("See all joint orders"), reverse("coop:joints"))
    if code in BEFORE:
        if not facts.pieces:
            return Button(gettext("Put in what members need"), _at("joint-put-in", joint))
        return Button(gettext("See prices and savings"), _at("joint-prices", joint))
    for order in purchases:
        if order.state == PurchaseOrder.State.DRAFT:
            return Button(gettext("Send order %(order)s") % {"order": order.number}, order.get_absolute_url())
    for order in purchases:
        if order.is_open:
            return Button(gettext("Receive the goods"), reverse("buying:receive", args=[order.number]))
    if facts.unposted:
        return Button(gettext("Split what it cost"), _at("joint-split", joint))
    for row in handing:
        if row.left and row.there:
            return Button(
                gettext("Hand out to %(member)s") % {"member": row.need.member},
                _at("joint-share", joint, row.need.member.slug),
            )
    return Button(gettext("See the split"), _at("joint-split", joint))


def _more(joint: JointOrder, code: str, facts: Facts) -> list[Button]:
    if code in BEFORE:
        put_in = [Button(gettext("Put in what members need"), _at("joint-put-in", joint))] if facts.pieces else []
        return [
            *put_in,
            Button(gettext("Collect from members’ plans"), _at("joint-collect", joint)),
            Button(gettext("Edit the joint order"), _at("joint-edit", joint)),
            Button(gettext("Order of the members"), _at("joint-members", joint)),
            Button(gettext("Call it off"), _at("joint-call-off", joint)),
        ]
    if code == "closed":
        return [Button(gettext("Open it again"), _at("joint-reopen", joint))]
    if code == "ended":
        return []
    return [
        Button(gettext("See the split"), _at("joint-split", joint)),
        Button(gettext("List to sign"), _at("joint-list-pdf", joint)),
        Button(gettext("List as spreadsheet"), _at("joint-list-workbook", joint)),
    ]


def _warning(joint: JointOrder, code: str, facts: Facts) -> str:
    if code == "past" and facts.pieces:
        return gettext("Members change nothing any more since %(closes_on)s. Close it, so that it is ordered.") % {
            "closes_on": day(joint.closes_on)
        }
    return ""


def bars_of(organisation: Organisation, wanted: Iterable[tuple[Any, str, int, int | None]]) -> list[Bars]:
    """``wanted``: (material and length, name, pieces, came) in the order in which they stand."""
    groups: dict[tuple[Any, Any], list[Bar]] = defaultdict(list)
    for (material, length), name, pieces, came in wanted:
        groups[material, length].append(Bar(name, pieces, came))
    return [Bars(item_words(material, length, organisation), bars) for (material, length), bars in groups.items()]


def _bars(joint: JointOrder, needs: Sequence[JointNeed], handing: Sequence[HandingRow]) -> SafeString | str:
    handed = {row.need.pk: row.handed for row in handing} if any(row.handed for row in handing) else {}
    items = dict.fromkeys((need.material, need.length) for need in needs)
    wanted = [
        (item, str(need.member), need.quantity, handed.get(need.pk))
        for item in items
        for need in needs
        if (need.material, need.length) == item
    ]
    return bars_drawn(bars_of(joint.organisation, wanted), gettext("What each member needs, by material"))


def _shares(joint: JointOrder, rows: Sequence[SplitRow], handing: Sequence[HandingRow]) -> list[dict[str, Any]]:
    left: dict[int, int] = defaultdict(int)
    for one in handing:
        left[one.need.member_id] += one.left
    return [
        {
            "member": name_of(joint, row.member),
            "due": sum(row.got),
            "left": left[row.member.pk] if row.member else None,
            "owes": row.owes,
            "alone": row.alone if row.member else None,
            "url": _at("joint-share", joint, row.member.slug) if row.member else None,
        }
        for row in rows
    ]


def name_of(joint: JointOrder, member: Member | None) -> str:
    """None: what packs and price breaks bring beyond what members need."""
    return str(member) if member else gettext("%(organisation)s itself") % {"organisation": joint.organisation.name}


def share_bars(
    joint: JointOrder, title: str, rows: Iterable[tuple[Member | None, Decimal, Decimal]]
) -> SafeString | str:
    """Of each member what it pays together, of what it would pay alone."""
    currency = joint.organisation.currency
    bars = [Bar(str(member), alone, together) for member, together, alone in rows if member]
    return bars_drawn([Bars(gettext("Alone, in all"), bars)], title, currency=currency)
