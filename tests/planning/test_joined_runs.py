"""Purlins of whatever lengths are there or on offer, against every choice; prices are invented."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import InHouse, Lot
from farmbuild.planning.netting.in_house import rows_to_trim, subtract_in_house
from farmbuild.planning.netting.runs import Option, cheapest_run
from farmbuild.planning.results import SeasonPlan, TakeoffRow
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import BUYER, BY_CODE, OFFERS, TWELVE, feet, house, inches, offer, season
from tests.planning.test_season import check_conservation
from tests.size import examples

RAIL = "rail-1-3-8"
OTHERS = tuple(o for o in OFFERS if o.material != RAIL)
#: 48 ft of ridge and 2 sides; joints of 6 in.
SPEC = replace(TWELVE, length=feet(48))


def planned(*offers: tuple[int, str], lots: tuple[Lot, ...] = (), **changes: object) -> SeasonPlan:
    rail = tuple(offer("tubes", RAIL, feet(length), {1: price}) for length, price in offers)
    given_in = season(house("h", SPEC), offers=(*OTHERS, *rail), lots=lots, **changes)
    plan = plan_season(given_in)
    if not given_in.in_house:
        check_conservation(given_in, plan)
    return plan


def purlins(plan: SeasonPlan) -> list[tuple[str, Decimal | None, int]]:
    return [(row.purpose, row.length, row.quantity) for row in plan.takeoff if row.run]


def test_the_length_of_the_spec_is_taken_at_equal_price() -> None:
    # 5 x 120 - 4 x 6 = 576 in = 48 ft, 5 sticks a run.
    assert purlins(planned((10, "10.00"))) == [("ridge purlins", feet(10), 5), ("side purlins", feet(10), 10)]


def test_longer_sticks_are_taken_where_they_are_cheaper() -> None:
    # 3 x 20 - 2 x 0.5 = 59 ft at 45.00 against 5 of 10 ft at 50.00; 2 of 20 and 1 of 10: 49 ft, 40.00.
    plan = planned((10, "10.00"), (20, "15.00"))
    assert purlins(plan) == [
        ("ridge purlins", feet(20), 2),
        ("ridge purlins", feet(10), 1),
        ("side purlins", feet(20), 4),
        ("side purlins", feet(10), 2),
    ]
    # 49 ft are made of each run, and a foot is sawn off a stick of 10 ft.
    assert [(row.length, row.trim, row.trims) for row in rows_to_trim(plan)] == [
        (feet(10), feet(1), 1),
        (feet(10), feet(1), 2),
    ]
    [ridge, *_] = [row for row in plan.takeoff if row.run]
    assert "1 run of 48', each of 2 sticks of 20' and 1 stick of 10' with 2 joints of 6\", 49' long" in ridge.working


def test_what_the_yard_has_is_taken_first() -> None:
    # A stick of 16 ft is reckoned at 9/10 of 16.00. 2 of them and 2 of 10 ft are 50.5 ft and 48.80, against 50.00 for 5
    # of 10 ft; the third goes into a run of the sides, 16 + 4 x 10 - 4 x 0.5 = 54 ft, only where it saves something.
    lots = (Lot("L1", RAIL, feet(16), 3, Decimal(9), "rack"),)
    plan = planned((10, "10.00"), lots=lots)
    assert purlins(plan)[:2] == [("ridge purlins", feet(16), 2), ("ridge purlins", feet(10), 2)]
    assert plan.unmet == ()
    assert [(a.purpose, a.length, a.quantity) for a in plan.allocations] == [("ridge purlins", feet(16), 2)]


def test_a_length_that_nobody_offers_is_replaced() -> None:
    plan = planned((10, "10.00"), (21, "20.00"))
    alone = plan_season(
        season(
            house("h", replace(SPEC, purlin_stick_length=feet(15))),
            offers=(*OTHERS, offer("tubes", RAIL, feet(10), {1: "10.00"})),
        )
    )
    assert alone.unmet == () and purlins(alone)[0] == ("ridge purlins", feet(10), 5)
    assert plan.unmet == ()


def test_sticks_of_other_lengths_in_the_house_count_as_those_that_they_save() -> None:
    takeoff = take_off(house("h", SPEC), BY_CODE, BUYER.units)
    ridge = next(row for row in takeoff if row.purpose == "ridge purlins")

    def left(*pieces: tuple[int, int]) -> int:
        given_out = [InHouse("h", RAIL, feet(length), n, "ridge purlins") for length, n in pieces]
        covered = subtract_in_house([ridge], given_out, BY_CODE, inches("0.125"))
        assert covered.too_much == [] or sum(n for _, n in pieces) > 3
        return sum(row.quantity for row in covered.rows)

    assert ridge.quantity == 5
    assert left((20, 2), (10, 1)) == 0
    # One of 20 ft saves 2: 20 + 3 x 10 - 3 x 0.5 = 48.5 ft.
    assert left((20, 1)) == 3
    assert left((20, 2)) == 1
    assert left((10, 4)) == 1


def test_what_is_left_over_still_saves_sticks() -> None:
    """5 of 20 ft for 2 runs: 3 make one, 2 and a stick of 10 ft the other; 6 make both."""
    takeoff = take_off(house("h", SPEC), BY_CODE, BUYER.units)
    side = next(row for row in takeoff if row.purpose == "side purlins")

    def left(n: int) -> int:
        pieces = [InHouse("h", RAIL, feet(20), n, "side purlins")]
        return sum(row.quantity for row in subtract_in_house([side], pieces, BY_CODE, inches("0.125")).rows)

    assert [left(n) for n in (1, 2, 3, 4, 5, 6, 7)] == [8, 6, 4, 2, 1, 0, 0]


def test_a_plan_carried_out_needs_nothing_more() -> None:
    plan = planned((10, "10.00"), (20, "15.00"))
    there = tuple(InHouse("h", row.material, row.length, row.quantity, row.purpose) for row in plan.takeoff if row.run)
    again = planned((10, "10.00"), (20, "15.00"), in_house=there)
    wanted = {(need.purpose) for need in again.already_there}
    assert {"ridge purlins", "side purlins"} <= wanted
    hoops = sum(row.quantity for row in again.takeoff if row.purpose == "hoops")
    bought = sum(line.needed for order in again.orders for line in order.lines if line.material == RAIL)
    assert bought == hoops
    assert rows_to_trim(again) == []
    assert again.too_much == ()


def test_a_run_that_is_half_there_is_finished() -> None:
    there = (InHouse("h", RAIL, feet(10), 7, "side purlins"),)
    plan = planned((10, "10.00"), (20, "15.00"), in_house=there)
    side = [row for row in plan.takeoff if row.purpose == "side purlins"]
    # Of 2 runs of 5, one is there and 2 sticks of the other.
    assert sum(row.quantity for row in side) == 10 and {row.length for row in side} == {feet(10)}


LENGTHS = st.lists(st.integers(2, 8), min_size=1, max_size=3, unique=True)


@examples(100)
@given(LENGTHS, st.lists(st.integers(1, 6), min_size=3, max_size=3), st.integers(3, 25), st.data())
def test_no_mix_of_lengths_is_cheaper(lengths: list[int], costs: list[int], run: int, data: st.DataObject) -> None:
    slide = Decimal(1)
    most = [data.draw(st.one_of(st.none(), st.integers(0, 4))) for _ in lengths]
    ranks = [data.draw(st.integers(0, 3)) for _ in lengths]
    options = [Option(Decimal(n), Decimal(c), m, r) for n, c, m, r in zip(lengths, costs, most, ranks, strict=False)]
    best = None
    for counts in itertools.product(*(range(run + 1 if m is None else m + 1) for m in most)):
        sticks = sum(counts)
        if sticks and sum(n * k for n, k in zip(lengths, counts, strict=True)) - (sticks - 1) >= run:
            cost = sum(c * k for c, k in zip(costs, counts, strict=False))
            found_here = (cost, sticks, sum(r * k for r, k in zip(ranks, counts, strict=True)))
            best = found_here if best is None else min(best, found_here)
    found = cheapest_run(Decimal(run), slide, options)
    if best is None:
        assert found is None
        return
    assert found is not None
    assert all(n and (o.most is None or n <= o.most) for o, n in found.items())
    assert sum(o.length * n for o, n in found.items()) - (sum(found.values()) - 1) * slide >= run
    rank = sum(o.rank * n for o, n in found.items())
    assert (sum(o.cost * n for o, n in found.items()), sum(found.values()), rank) == best


def test_old_rows_have_no_run() -> None:
    row = TakeoffRow("h", "ridge purlins", RAIL, feet(10), 5, "sticks", True, "")
    assert (row.run, row.slide, row.runs) == (0, 0, 0)
