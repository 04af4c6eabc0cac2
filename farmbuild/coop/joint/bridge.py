"""Joint orders and the planner: best offers for many or for one, and what each gets and owes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from farmbuild.catalogue.bridge import buyer_input, material_input, offer_input, supplier_input
from farmbuild.catalogue.selectors import materials_of, offers_of, suppliers_of
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.planning.buying.joint import Bill, DamageRule, Line, Share, Split, split
from farmbuild.planning.buying.plan import buy, describe
from farmbuild.planning.inputs import Season
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.netting.plan import Need
from farmbuild.planning.results import Order
from farmbuild.planning.season import snapshot
from farmbuild.sites.bridge import site_input
from farmbuild.sites.models import Site

__all__ = ["Bill", "DamageRule", "Item", "Line", "Order", "Season", "Share", "Split", "split"]

#: Of the solver, for one purchase: these are small.
_EFFORT = 5.0
#: Pieces by material and length, in order.
Demand = tuple[tuple[Item, int], ...]


def market_of(*, organisation: Organisation, site: Site, materials: Iterable[int], as_of: date) -> Season:
    """All that decides what these materials (keys) cost on that day: a season without houses; five queries."""
    wanted = set(materials)
    offers = list(offers_of(organisation=organisation).filter(material__in=wanted))
    sellers = suppliers_of(organisation=organisation).filter(pk__in={offer.supplier_id for offer in offers})
    rows = materials_of(organisation=organisation).filter(pk__in=wanted)
    return Season(
        as_of=as_of,
        buyer=buyer_input(organisation),
        delivery_site=site.slug,
        sites=(site_input(site),),
        houses=(),
        materials=tuple(sorted(map(material_input, rows), key=lambda one: one.code)),
        lots=(),
        suppliers=tuple(sorted(map(supplier_input, sellers), key=lambda one: one.code)),
        offers=tuple(offer_input(offer) for offer in sorted(offers, key=lambda offer: offer.pk)),
        kerf=organisation.kerf,
        keep_from=organisation.keep_from,
    )


def pack(market: Season) -> Any:
    return snapshot.season_to_json(market)


def unpack(stored: Any) -> Season:
    return snapshot.season_from_json(stored)


def digest_of(*parts: object) -> str:
    return snapshot.digest([repr(part) for part in parts])


def demand_of(pieces: Mapping[Item, int]) -> Demand:
    found = ((item, count) for item, count in pieces.items() if count)
    return tuple(sorted(found, key=lambda one: (one[0][0], one[0][1] or Decimal(0))))


def on_offer(market: Season, items: Iterable[Item]) -> set[Item]:
    there = Market.of(market.offers, market.as_of)
    return {item for item in items if there.sells(item)}


def best_orders(market: Season, demand: Demand, need_by: date) -> tuple[Order, ...]:
    """The orders by which it costs least, one a supplier; every item is on offer."""
    return _best(market, demand, need_by) if demand else ()


@lru_cache(maxsize=256)
def _best(market: Season, demand: Demand, need_by: date) -> tuple[Order, ...]:
    bought = buy(
        [Need(item[0], item[1], count, need_by, house="", purpose="") for item, count in demand],
        Market.of(market.offers, market.as_of),
        market.suppliers,
        {one.code: one for one in market.materials},
        market.buyer,
        delivery_site=market.delivery_site,
        effort=_EFFORT,
    )
    return bought.orders


def cost_of(orders: Iterable[Order], *, recovered: bool) -> Decimal:
    """To be paid, less the tax where the buyer gets it back."""
    return sum((order.total - (order.tax if recovered else Decimal(0)) for order in orders), Decimal(0))


def bill_of_orders(orders: Iterable[Order], *, currency: str, recovered: bool) -> Bill:
    """As they would be billed."""
    lines, delivery = [], {}
    for key, order in enumerate(orders):
        delivery[key] = order.delivery
        for line in order.lines:
            goods, tax = net(line.line_total, line.tax, included=order.tax_included, recovered=recovered)
            lines.append(Line(key, (line.material, line.length), line.quantity, goods, tax))
    return Bill(lines, delivery, currency)


def net(goods: Decimal, tax: Decimal, *, included: bool, recovered: bool) -> tuple[Decimal, Decimal]:
    """Goods and the tax to be added to them, of what they are billed at."""
    if included:
        return (goods - tax if recovered else goods), Decimal(0)
    return goods, Decimal(0) if recovered else tax


def item_words(name: str, length: Decimal | None, organisation: Organisation) -> str:
    return describe(name, length, UnitSystem(organisation.unit_system))
