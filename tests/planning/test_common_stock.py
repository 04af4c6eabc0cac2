"""Common stock of a cooperative in a plan: no more than there is, where no offer is cheaper, paid and not ordered."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.planning.inputs import Lot
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.season.snapshot import plan_from_json, plan_to_json, season_from_json, season_to_json
from tests.planning.seasons import TWELVE, house, season

HOUSE = house("a", TWELVE)


def bought(plan):
    found = Counter()
    for order in plan.orders:
        for line in order.lines:
            found[line.material, line.length] += line.needed
    return found


def common(plan, price, quantity=10_000, share=Decimal(1)):
    """A lot of common stock of each thing that the plan buys, at a share of what it pays."""
    seen = {}
    for order in plan.orders:
        for line in order.lines:
            paid = (line.unit_price * share).quantize(Decimal("0.01")) if price is None else price
            ref = f"common stock of Valley, lot {len(seen) + 1}"
            least = min(quantity, line.needed)
            seen.setdefault(
                (line.material, line.length),
                Lot(ref, line.material, line.length, least, paid, "Barn", common="Valley"),
            )
    return tuple(seen.values())


@pytest.fixture(scope="module")
def alone():
    return plan_season(season(HOUSE))


def test_what_is_cheaper_there_is_fetched_and_not_ordered(alone):
    asked = season(HOUSE, lots=common(alone, None, share=Decimal("0.5")))
    plan = plan_season(asked)
    there = {lot.ref: lot for lot in asked.lots}
    assert plan.from_common and sum(bought(plan).values()) < sum(bought(alone).values())
    for row in plan.from_common:
        lot = there[row.lot]
        assert 0 < row.quantity <= lot.quantity and row.unit_price == lot.unit_cost
        assert row.amount == (row.quantity * row.unit_price).quantize(Decimal("0.01"))
        used = sum(one.quantity for one in plan.allocations if one.lot == row.lot)
        used += sum(one.times for one in plan.layouts if one.lot == row.lot)
        assert used == row.quantity
    cost = sum(order.total for order in plan.orders) + sum(row.amount for row in plan.from_common)
    assert cost < sum(order.total for order in alone.orders)


def test_few_pieces_are_never_taken_twice_and_the_rest_is_ordered(alone):
    plan = plan_season(season(HOUSE, lots=common(alone, None, quantity=3, share=Decimal("0.5"))))
    assert plan.from_common and all(row.quantity <= 3 for row in plan.from_common)
    assert {row.material for row in plan.unmet} == {row.material for row in alone.unmet}
    assert bought(plan)


def test_what_is_dearer_there_stays_there(alone):
    plan = plan_season(season(HOUSE, lots=common(alone, None, share=Decimal(3))))
    assert plan.from_common == ()
    assert bought(plan) == bought(alone) and plan.together == alone.together


def test_what_is_left_of_it_is_no_leftover_and_the_books_are_even(alone):
    lots = tuple(replace(lot, quantity=lot.quantity + 50) for lot in common(alone, None, share=Decimal("0.5")))
    plan = plan_season(season(HOUSE, lots=lots))
    assert not [row for row in plan.leftovers if row.source == "lot"]
    for one in plan.balances:
        assert one.stock == 0
        assert one.bought == one.used + one.kerf + one.leftover + one.scrap, one.material


def test_own_stock_goes_first(alone):
    theirs = common(alone, Decimal("0.01"))
    own = tuple(replace(lot, ref=f"L-{n}", common="", unit_cost=Decimal(90)) for n, lot in enumerate(theirs))
    whole = plan_season(season(HOUSE, lots=own + theirs))
    taken = Counter()
    for one in whole.allocations:
        taken[one.lot.startswith("common")] += one.quantity
    assert taken[False] and not taken[True]


def test_it_is_stored_and_read_back(alone):
    asked = season(HOUSE, lots=common(alone, None, share=Decimal("0.5")))
    plan = plan_season(asked)
    assert season_from_json(season_to_json(asked)) == asked
    assert plan_from_json(plan_to_json(plan)) == plan
    stored = plan_to_json(alone)
    del stored["plan"]["from_common"]
    assert plan_from_json(stored) == alone
