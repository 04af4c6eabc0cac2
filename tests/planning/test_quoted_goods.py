"""What a quote charges of a plan, worked out item by item in another way than line by line."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.inputs import Offer, PriceBreak, Supplier
from farmbuild.planning.pricing.goods import bought
from farmbuild.planning.pricing.options import PricedOption, difference
from farmbuild.planning.pricing.quote import Goods, Kind, Rates, Use, price
from tests.size import examples

D = Decimal
ITEMS = [("rail", D(3000)), ("rail", D(6400)), ("screw", None)]


@st.composite
def plans(draw):
    offers, orders = [], []
    for code in ("a", "b"):
        lines = []
        for at in range(draw(st.integers(0, 3))):
            material, length = draw(st.sampled_from(ITEMS))
            steps = sorted(draw(st.sets(st.integers(2, 40), max_size=2)))
            breaks = tuple(
                PriceBreak(count, D(900 - 7 * n) / 100) for n, count in enumerate([1, *steps], start=len(lines))
            )
            offers.append(Offer(f"{code}{at}", code, material, length, draw(st.integers(1, 9)), breaks, 3))
            needed = draw(st.integers(1, 12))
            lines.append(
                SimpleNamespace(
                    offer=f"{code}{at}", material=material, length=length, needed=needed, description=f"{material} {at}"
                )
            )
        orders.append(SimpleNamespace(supplier=code, lines=tuple(lines)))
    charges = st.sampled_from([D(0), D("12.345")])
    free_from = st.none() | st.integers(0, 200).map(D)
    suppliers = [
        Supplier(c, c.upper(), delivery_charge=draw(charges), free_delivery_from=draw(free_from)) for c in "ba"
    ]
    rows = st.tuples(st.sampled_from(["hoops", "purlins"]), st.sampled_from(ITEMS), st.integers(1, 30))
    takeoff = [
        SimpleNamespace(purpose=purpose, material=item[0], length=item[1], quantity=quantity)
        for purpose, item, quantity in draw(st.lists(rows, max_size=4))
    ]
    season = SimpleNamespace(offers=offers, suppliers=suppliers, buyer=SimpleNamespace(currency="USD"))
    return season, SimpleNamespace(takeoff=takeoff, orders=orders)


def price_at(offer, count):
    return min(step.unit_price for step in offer.breaks if step.from_quantity <= max(count, 1))


@examples(60)
@given(plans(), st.sampled_from([D(0), D(5), D("33.4")]), st.dictionaries(st.sampled_from(ITEMS), st.integers(0, 30)))
def test_pieces_are_charged_and_the_rest_of_packs_is_not(planned, waste, free):
    season, plan = planned
    offers = {offer.ref: offer for offer in season.offers}
    rows, deliveries = bought(season, plan, waste, free=free)
    lines = [(order.supplier, line) for order in plan.orders for line in order.lines]
    assert [(row.supplier, row.offer, row.material, row.length, row.description) for row in rows] == [
        (code, line.offer, line.material, line.length, line.description) for code, line in lines
    ]
    for item in ITEMS:
        of_item = [row for row in rows if (row.material, row.length) == item]
        if not of_item:
            continue
        needed = [line.needed for _, line in lines if (line.material, line.length) == item]
        hoops = sum(r.quantity for r in plan.takeoff if r.purpose == "hoops" and (r.material, r.length) == item)
        spoilt = ceil(hoops * (100 + Fraction(waste)) / 100) - hoops
        # All of it with the first of those that sell most.
        assert [row.waste for row in of_item] == [
            spoilt if at == needed.index(max(needed)) else 0 for at in range(len(needed))
        ]
        assert [row.quantity - row.waste for row in of_item] == needed
        there = free.get(item, 0)
        before = 0
        for row in of_item:
            assert row.from_yard == max(0, min(there, before + row.quantity) - before)
            before += row.quantity
    goods = dict.fromkeys("ab", D(0))
    for row in rows:
        offer = offers[row.offer]
        packed = row.quantity - row.from_yard + row.to_stock
        assert packed % offer.pack == 0
        assert 0 <= row.to_stock < offer.pack
        assert row.price == price_at(offer, packed or offer.pack)
        goods[row.supplier] += (packed * row.price).quantize(D("0.01"), ROUND_HALF_UP)
    expected = []
    for supplier in sorted(season.suppliers, key=lambda row: row.code):
        came = goods[supplier.code]
        free_from = supplier.free_delivery_from
        if came and supplier.delivery_charge and not (free_from is not None and came >= free_from):
            expected.append((supplier.code, supplier.name, D("12.35")))
    assert [(row.supplier, row.name, row.amount) for row in deliveries] == expected
    assert all(row.from_yard == 0 for row in bought(season, plan, waste)[0])


@pytest.mark.parametrize(("free_from", "charged"), [("50", False), ("50.01", True), (None, True)])
def test_goods_that_just_reach_the_free_level_are_brought_for_nothing(free_from, charged):
    offer = Offer("o", "a", "screw", None, 5, (PriceBreak(1, D(10)),), 3)
    line = SimpleNamespace(offer="o", material="screw", length=None, needed=4, description="screws")
    supplier = Supplier("a", "A", delivery_charge=D(9), free_delivery_from=free_from and D(free_from))
    season = SimpleNamespace(offers=[offer], suppliers=[supplier], buyer=SimpleNamespace(currency="USD"))
    plan = SimpleNamespace(takeoff=[], orders=[SimpleNamespace(supplier="a", lines=(line,))])
    assert bool(bought(season, plan, D(0))[1]) is charged
    # All of it lies in the yard: nothing is brought.
    assert bought(season, plan, D(0), free={("screw", None): 4})[1] == ()


COSTS = st.lists(st.tuples(st.sampled_from("xyz"), st.integers(0, 5000).map(lambda n: D(n) / 100)), max_size=5)
RATES = Rates(D(0), D(0), D(4), D(20), tax={Kind.MATERIALS: D(6), Kind.EQUIPMENT: D("2.5")})


def priced(goods, uses):
    quote = price(RATES, [Goods(n, D(1), c) for n, c in goods], [], [Use(n, D(1), c) for n, c in uses], "USD")
    return PricedOption(quote, {Kind.MATERIALS: goods, Kind.EQUIPMENT: uses})


@examples(40)
@given(COSTS, COSTS, COSTS, COSTS)
def test_what_an_option_costs_more_is_told_by_line(goods, uses, other_goods, other_uses):
    option, base = priced(goods, uses), priced(other_goods, other_uses)
    found = difference(option, base, "USD")
    assert found.total == option.priced.total - base.priced.total == sum(found.parts.values()) + found.tax
    assert found.tax == option.priced.tax - base.priced.tax
    for kind, ours, theirs in (
        (Kind.MATERIALS, goods, other_goods),
        (Kind.WORK, [], []),
        (Kind.EQUIPMENT, uses, other_uses),
    ):
        lines = {name: more for of, name, more in found.lines if of is kind}
        assert found.parts[kind] == option.priced.part(kind).price - base.priced.part(kind).price
        assert sum(lines.values()) == found.parts[kind]
        assert all(lines.values())
        # No line is further from its part of the price than rounding each of its rows leaves.
        for name in "xyz":
            exact, rows = Fraction(0), 0
            for sign, costs, made in ((1, ours, option), (-1, theirs, base)):
                whole = sum(cost for _, cost in costs)
                mine = [cost for n, cost in costs if n == name]
                rows += len(mine)
                if whole:
                    exact += sign * Fraction(made.priced.part(kind).price) * Fraction(sum(mine)) / Fraction(whole)
            assert abs(Fraction(lines.get(name, D(0))) - exact) <= Fraction(rows, 100)
        order = [name for of, name, _ in found.lines if of is kind]
        assert order == [n for n in dict.fromkeys([n for n, _ in (*ours, *theirs)]) if n in lines]
