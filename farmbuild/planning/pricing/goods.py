"""What a quote charges of what a season plan would buy: pieces that are used, and not the rest of their packs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import line_total, round_money
from farmbuild.planning.inputs import Offer, Season
from farmbuild.planning.netting.market import Item, break_price
from farmbuild.planning.pricing.quote import with_waste
from farmbuild.planning.results import OrderLine, SeasonPlan

#: Rows of the take-off whose sticks are bent, and now and then spoilt.
HOOPS = "hoops"


@dataclass(frozen=True)
class Bought:
    """``quantity`` pieces are used, ``waste`` of them spoilt, ``from_yard`` lie there; ``to_stock``: the rest of
    packs, which is not charged. ``price``: of one, in the quantity in which it would be bought.
    """

    offer: str
    supplier: str
    material: str
    length: Decimal | None
    description: str
    quantity: int
    waste: int
    price: Decimal
    from_yard: int
    to_stock: int


@dataclass(frozen=True)
class Delivery:
    supplier: str
    name: str
    amount: Decimal


def bought(
    season: Season, plan: SeasonPlan, waste: Decimal, *, free: Mapping[Item, int] | None = None
) -> tuple[tuple[Bought, ...], tuple[Delivery, ...]]:
    """Of a plan without stock. ``waste``: percent of the sticks of hoops, of each item rounded up to whole ones.

    ``free``: pieces in the yard that are used first; they cost what replacing them would. None: the yard is left out.
    A supplier from whom nothing has to be bought then delivers nothing.
    """
    offers = {offer.ref: offer for offer in season.offers}
    hoops: dict[Item, int] = {}
    for row in plan.takeoff:
        if row.purpose == HOOPS:
            item = (row.material, row.length)
            hoops[item] = hoops.get(item, 0) + row.quantity
    spoilt = {item: with_waste(sticks, waste) - sticks for item, sticks in hoops.items()}
    left = dict(free or {})
    found: list[Bought] = []
    charges: list[Delivery] = []
    most = _largest(plan)
    for order in plan.orders:
        goods = Decimal(0)
        for line in order.lines:
            item = (line.material, line.length)
            extra = spoilt.get(item, 0) if most[item] is line else 0
            used = line.needed + extra
            there = min(left.get(item, 0), used)
            left[item] = left.get(item, 0) - there
            offer, to_buy = offers[line.offer], used - there
            packed = _packed(offer, to_buy)
            price = break_price(offer, packed or offer.pack)
            goods += line_total(packed, price, season.buyer.currency)
            row_ = Bought(
                line.offer,
                order.supplier,
                line.material,
                line.length,
                line.description,
                used,
                extra,
                price,
                there,
                packed - to_buy,
            )
            found.append(row_)
        charges += _delivery(season, order.supplier, goods)
    return tuple(found), tuple(charges)


def _largest(plan: SeasonPlan) -> dict[Item, OrderLine]:
    """Of the lines of an item, which may be of several offers, the one that sells most."""
    found: dict[Item, OrderLine] = {}
    for line in _lines(plan):
        item = (line.material, line.length)
        if item not in found or line.needed > found[item].needed:
            found[item] = line
    return found


def _lines(plan: SeasonPlan) -> Iterable[OrderLine]:
    return (line for order in plan.orders for line in order.lines)


def _packed(offer: Offer, pieces: int) -> int:
    return -(-pieces // offer.pack) * offer.pack


def _delivery(season: Season, code: str, goods: Decimal) -> list[Delivery]:
    supplier = next(row for row in season.suppliers if row.code == code)
    free = not goods or (supplier.free_delivery_from is not None and goods >= supplier.free_delivery_from)
    amount = Decimal(0) if free else round_money(supplier.delivery_charge, season.buyer.currency)
    return [Delivery(code, supplier.name, amount)] if amount else []
