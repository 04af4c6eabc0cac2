"""Which offers to take: least landed cost that arrives by each need date, with a proven lower bound.

Landed cost is goods plus delivery at the prices of the offers, before tax or with it as they are. All that is ordered
from one supplier is one order, placed on the plan's date. Things come in whole packs; the price a piece is that of the
highest break reached, for all pieces. Where nothing arrives in time, the offers that arrive first are taken and the
days they are late are said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.measure.money import places, round_money
from farmbuild.mechanics import TubeSection
from farmbuild.planning.buying.model import Choice, best_offers
from farmbuild.planning.buying.sums import LineDays, LineSums, line_sums, order_by, order_sums
from farmbuild.planning.inputs import Buyer, Offer, Supplier
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.netting.market import Item, Market, break_price
from farmbuild.planning.netting.plan import Need
from farmbuild.planning.results import BuyingSummary, Order, OrderLine


@dataclass(frozen=True)
class Bought:
    orders: tuple[Order, ...]
    summary: BuyingSummary


@dataclass
class _Share:
    """What one offer has to serve: quantities by the day they are needed."""

    by_day: dict[date, int]

    @property
    def needed(self) -> int:
        return sum(self.by_day.values())


def demand_by_day(needs: Iterable[Need]) -> dict[Item, dict[date, int]]:
    sums: dict[Item, dict[date, int]] = {}
    for need in needs:
        days = sums.setdefault((need.material, need.length), {})
        days[need.need_by] = days.get(need.need_by, 0) + need.quantity
    return {item: dict(sorted(sums[item].items())) for item in sorted(sums, key=lambda i: (i[0], i[1] or Decimal(0)))}


def buy(
    needs: Iterable[Need],
    market: Market,
    suppliers: Sequence[Supplier],
    materials: Mapping[str, Material],
    buyer: Buyer,
    *,
    delivery_site: str,
    effort: float = 20.0,
    choice: Choice | None = None,
) -> Bought:
    """Choose offers and write the orders, one a supplier, by supplier code.

    Every need must be on offer. ``effort`` is the solver's deterministic limit, in its own units of about a
    second; when it runs out the best orders found are given with ``optimal`` False. ``choice``: of offers for these
    needs, where it is made already.
    """
    demand = demand_by_day(needs)
    choice = choice or best_offers(demand, market, suppliers, places=places(buyer.currency), effort=effort)
    shares = _share_out(demand, choice, market)
    by_supplier: dict[str, list[Offer]] = {}
    for offer in choice.offers:
        by_supplier.setdefault(offer.supplier, []).append(offer)
    held = {supplier.code: supplier for supplier in suppliers}
    orders = tuple(
        _order(held[code], by_supplier[code], choice, shares, market, materials, buyer, delivery_site)
        for code in sorted(by_supplier)
    )
    cost = sum((order.goods + order.delivery for order in orders), Decimal(0))
    bound = min(cost, round_money(choice.bound, buyer.currency))
    return Bought(orders, BuyingSummary(cost, bound, choice.optimal))


def _share_out(demand: Mapping[Item, Mapping[date, int]], choice: Choice, market: Market) -> dict[str, _Share]:
    """Give each day's need its offers: earliest days first, from what arrives soonest."""
    shares = {offer.ref: _Share({}) for offer in choice.offers}
    left = {offer.ref: choice.packs[offer.ref] * offer.pack for offer in choice.offers}
    for item, days in demand.items():
        offers = sorted(
            (o for o in choice.offers if (o.material, o.length) == item),
            key=lambda o: (o.lead_days is None, o.lead_days, o.ref),
        )
        for day, quantity in days.items():
            for offer in offers:
                part = min(quantity, left[offer.ref])
                if part:
                    left[offer.ref] -= part
                    quantity -= part
                    by_day = shares[offer.ref].by_day
                    by_day[day] = by_day.get(day, 0) + part
    return shares


def _order(
    supplier: Supplier,
    offers: Sequence[Offer],
    choice: Choice,
    shares: Mapping[str, _Share],
    market: Market,
    materials: Mapping[str, Material],
    buyer: Buyer,
    delivery_site: str,
) -> Order:
    lines = tuple(
        _line(offer, choice.packs[offer.ref], shares[offer.ref], market, materials, buyer)
        for offer in sorted(offers, key=lambda o: (o.material, o.length or Decimal(0), o.ref))
    )
    given = (LineSums(line.line_total, line.tax) for line in lines)
    sums = order_sums(given, supplier, currency=buyer.currency, tax_included=buyer.prices_include_tax)
    by_ref = {offer.ref: offer for offer in offers}
    days = [LineDays(line.need_by, by_ref[line.offer].lead_days, by_ref[line.offer].valid_until) for line in lines]
    return Order(
        supplier=supplier.code,
        delivery_site=delivery_site,
        lines=lines,
        goods=sums.goods,
        delivery=sums.delivery,
        tax=sums.tax,
        total=sums.total,
        order_by=order_by(days, market.as_of),
        need_by=min(line.need_by for line in lines),
        weight_kg=tube_weight(lines, materials),
        tax_included=buyer.prices_include_tax,
    )


def _line(
    offer: Offer,
    packs: int,
    share: _Share,
    market: Market,
    materials: Mapping[str, Material],
    buyer: Buyer,
) -> OrderLine:
    quantity = packs * offer.pack
    unit_price = break_price(offer, quantity)
    tax_percent = buyer.tax_on(materials[offer.material])
    sums = line_sums(
        quantity,
        unit_price,
        tax_percent=tax_percent,
        currency=buyer.currency,
        tax_included=buyer.prices_include_tax,
    )
    name = materials[offer.material].name
    arrival = market.arrival(offer)
    return OrderLine(
        offer=offer.ref,
        supplier_code=offer.supplier_code,
        material=offer.material,
        description=describe(name, offer.length, buyer.units),
        length=offer.length,
        needed=share.needed,
        pack=offer.pack,
        packs=packs,
        quantity=quantity,
        unit_price=unit_price,
        line_total=sums.total,
        tax=sums.tax,
        need_by=min(share.by_day, default=arrival or market.as_of),
        late_days=max([0, *((arrival - day).days for day in share.by_day if arrival)]),
        tax_percent=tax_percent,
    )


def describe(name: str, length: Decimal | None, units: UnitSystem) -> str:
    return name if length is None else f"{name}, {format_length(length, units)}"


def tube_weight(lines: Iterable[OrderLine], materials: Mapping[str, Material]) -> Decimal | None:
    """Weight of the tube on the order, kg to a tenth; None when there is none or one has no known section."""
    total = 0.0
    any_tube = False
    for line in lines:
        material = materials[line.material]
        if material.kind is not Kind.TUBE or line.length is None:
            continue
        if material.width is None or material.thickness is None:
            return None
        try:
            tube = TubeSection(material.name, material.width, material.thickness)
        except ValueError:
            return None
        any_tube = True
        total += tube.kg_per_m * float(line.length * line.quantity) / 1000
    return Decimal(f"{total:.1f}") if any_tube else None
