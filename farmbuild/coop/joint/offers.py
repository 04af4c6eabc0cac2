"""What a joint order would cost at today's offers, together and each member alone. Before it is closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.coop.joint.bridge import (
    DamageRule,
    Item,
    Order,
    Season,
    best_orders,
    bill_of_orders,
    cost_of,
    demand_of,
    digest_of,
    item_words,
    market_of,
    on_offer,
    split,
)
from farmbuild.coop.joint.selectors import members_of, needs_of
from farmbuild.coop.models import JointMember, JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of

_NONE = Decimal(0)


@dataclass(frozen=True)
class PreviewRow:
    """Amounts with delivery and with the tax that stays; ``member`` None: what packs and breaks bring beyond."""

    member: Member | None
    position: int
    pieces: int
    together: Decimal
    alone: Decimal

    @property
    def saving(self) -> Decimal:
        return self.alone - self.together


@dataclass(frozen=True)
class Preview:
    """``not_offered``: sentences on what nobody offers, which is in no sum. ``seen``: of these needs and offers."""

    rows: tuple[PreviewRow, ...]
    orders: tuple[Order, ...]
    market: Season
    not_offered: tuple[str, ...]
    seen: str

    @property
    def total(self) -> Decimal:
        return sum((row.together for row in self.rows), _NONE)

    @property
    def members_total(self) -> Decimal:
        """Without what packs, breaks and smallest orders bring beyond, which the cooperative pays."""
        return sum((row.together for row in self.rows if row.member), _NONE)

    @property
    def alone_total(self) -> Decimal:
        return sum((row.alone for row in self.rows), _NONE)

    @property
    def saving(self) -> Decimal:
        """Of the members, who pay nothing for what is beyond."""
        return sum((row.saving for row in self.rows if row.member), _NONE)


def item_of(row: JointNeed) -> Item:
    return row.material.code, row.length


def wanted_by(members: Sequence[JointMember], needs: Sequence[JointNeed]) -> list[dict[Item, int]]:
    """Pieces by item of each member, as listed."""
    return [{item_of(row): row.quantity for row in needs if row.member_id == one.member_id} for one in members]


def preview_of(joint: JointOrder) -> Preview:
    """Nine queries; the offers are worked out once for the same needs and offers."""
    organisation = joint.organisation
    members, needs = members_of(joint), needs_of(joint)
    market = market_of(
        organisation=organisation,
        site=joint.delivery_site,
        materials={need.material_id for need in needs},
        as_of=today_of(organisation=organisation),
    )
    recovered = organisation.recovers_tax
    there = on_offer(market, {item_of(need) for need in needs})
    nobody = dict.fromkeys(
        gettext("Nobody offers %(item_words)s.")
        % {"item_words": item_words(need.material.name, need.length, organisation)}
        for need in needs
        if item_of(need) not in there
    )
    wanted = [{item: count for item, count in one.items() if item in there} for one in wanted_by(members, needs)]
    summed: dict[Item, int] = {}
    for one in wanted:
        for item, count in one.items():
            summed[item] = summed.get(item, 0) + count
    orders = best_orders(market, demand_of(summed), joint.need_by)
    bill = bill_of_orders(orders, currency=organisation.currency, recovered=recovered)
    found = split(wanted, bill, DamageRule.LISTED)
    rows = [
        PreviewRow(
            row.member,
            row.position,
            sum(one.values()),
            share.owes,
            alone_cost(market, one, joint, recovered=recovered),
        )
        for row, one, share in zip(members, wanted, found.members, strict=True)
    ]
    if more := sum(found.own.got.values()):
        rows.append(PreviewRow(None, len(rows) + 1, more, found.own.owes, _NONE))
    listed = [(row.member_id, row.position) for row in members]
    pieces = [(need.member_id, need.material_id, need.length, need.quantity) for need in needs]
    asked = digest_of(
        listed, pieces, joint.need_by, joint.delivery_site_id, joint.closes_on, market.offers, market.suppliers
    )
    return Preview(tuple(rows), orders, market, tuple(nobody), asked)


def alone_cost(market: Season, pieces: dict[Item, int], joint: JointOrder, *, recovered: bool) -> Decimal:
    """Best offers for these pieces alone, with their own delivery and tax."""
    return cost_of(best_orders(market, demand_of(pieces), joint.need_by), recovered=recovered)
