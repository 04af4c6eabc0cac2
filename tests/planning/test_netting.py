"""What lots and offcuts give, and what is then short."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from farmbuild.measure import to_grid
from farmbuild.planning.cutting import CutPlan
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot, Offer, Season
from farmbuild.planning.netting import cuts
from farmbuild.planning.netting.cuts import Saw
from farmbuild.planning.netting.market import Market
from farmbuild.planning.netting.plan import Netting, net
from farmbuild.planning.netting.yard import Yard, natural_key
from farmbuild.planning.results import TakeoffRow
from tests.planning.seasons import BUYER, BY_CODE, TWELVE, feet, house, inches, offer, season

RAIL, POST, TEN = "rail-1-3-8", "rail-1-5-8", feet(10)
EARLY, LATE = date(2027, 3, 1), date(2027, 5, 1)


def lot(ref: str, material: str, length: Decimal | None, quantity: int, cost: str = "5", **more: object) -> Lot:
    base = Lot(ref, material, length, quantity, Decimal(cost), f"rack of {ref}")
    return replace(base, **more)  # type: ignore[arg-type]


def whole(ref: str, quantity: int, material: str = RAIL, length: Decimal | None = TEN) -> TakeoffRow:
    return TakeoffRow(ref, "hoops", material, length, quantity, "sticks", True, "")


def pieces(ref: str, length: Decimal, quantity: int, material: str = POST) -> TakeoffRow:
    return TakeoffRow(ref, "ground posts", material, length, quantity, "pieces", False, "")


def run(
    rows: list[TakeoffRow], lots: list[Lot], given: Season | None = None, houses: tuple[House, ...] = ()
) -> tuple[Netting, Yard]:
    plan = given or season()
    if not houses:
        refs = dict.fromkeys(row.house for row in rows)
        houses = tuple(house(ref, TWELVE, need=LATE) for ref in refs)
    yard = Yard(lots)
    market = Market.of(plan.offers, plan.as_of)
    saw = Saw(plan.kerf, BUYER.units, BUYER.currency)
    return net(rows, houses, BY_CODE, yard, market, saw=saw), yard


def given_out(netting: Netting) -> list[tuple[str, str, int]]:
    return [(a.house, a.lot, a.quantity) for a in netting.allocations]


def test_refs_sort_as_people_count() -> None:
    assert sorted(["LOT-10", "LOT-2", "A"], key=natural_key) == ["A", "LOT-2", "LOT-10"]


def test_earliest_house_first_then_lowest_lot() -> None:
    houses = (house("b", TWELVE, need=LATE), house("a", TWELVE, need=LATE), house("z", TWELVE, need=EARLY))
    rows = [whole("b", 4), whole("a", 4), whole("z", 4)]
    netting, _ = run(rows, [lot("L10", RAIL, TEN, 5), lot("L2", RAIL, TEN, 5)], houses=houses)
    assert given_out(netting) == [("z", "L2", 4), ("a", "L2", 1), ("a", "L10", 3), ("b", "L10", 2)]
    assert [(n.house, n.quantity, n.need_by) for n in netting.needs] == [("b", 2, LATE)]


def test_own_site_comes_first() -> None:
    lots = [lot("L1", RAIL, TEN, 5), lot("L2", RAIL, TEN, 5, site="north")]
    netting, _ = run([whole("a", 7)], lots)
    assert given_out(netting) == [("a", "L2", 5), ("a", "L1", 2)]


def test_offcuts_and_other_lengths_are_never_given_out_whole() -> None:
    lots = [lot("L1", RAIL, TEN, 5, offcut=True), lot("L2", RAIL, feet(12), 5)]
    netting, yard = run([whole("a", 2)], lots)
    assert netting.allocations == []
    assert [n.quantity for n in netting.needs] == [2]
    assert yard.left == {"L1": 5, "L2": 5}


def test_what_is_on_its_way_serves_only_later_houses() -> None:
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    lots = [lot("L1", RAIL, TEN, 9, available_from=date(2027, 4, 1))]
    netting, _ = run([whole("soon", 3), whole("later", 3)], lots, houses=houses)
    assert given_out(netting) == [("later", "L1", 3)]
    assert [(n.house, n.need_by) for n in netting.needs] == [("soon", EARLY)]


def test_what_is_there_goes_before_what_is_on_its_way() -> None:
    lots = [lot("A1", RAIL, TEN, 9, available_from=EARLY), lot("L2", RAIL, TEN, 2)]
    netting, _ = run([whole("a", 5)], lots)
    assert given_out(netting) == [("a", "L2", 2), ("a", "A1", 3)]


def test_cut_pieces_on_their_way_serve_only_later_houses() -> None:
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    lots = [lot("L1", POST, feet(10), 1, "0.01", available_from=date(2027, 4, 1))]
    netting, _ = run([pieces("soon", feet(4), 2), pieces("later", feet(4), 2)], lots, houses=houses)
    by_lot = {layout.lot: {p.house for p in layout.pieces} for layout in netting.layouts}
    assert by_lot == {"L1": {"later"}, "": {"soon"}}


def test_what_comes_on_the_day_itself_is_there() -> None:
    """Whole sticks and cut pieces alike, and not a day later."""
    for when, whole_from, cut_from in (
        (LATE, [("a", "L1", 3)], {"P1"}),
        (LATE + timedelta(days=1), [], {""}),
    ):
        lots = [
            lot("L1", RAIL, TEN, 9, available_from=when),
            lot("P1", POST, feet(10), 9, "0.01", available_from=when),
        ]
        netting, _ = run([whole("a", 3), pieces("a", feet(4), 2)], lots)
        assert given_out(netting) == whole_from
        assert {layout.lot for layout in netting.layouts} == cut_from


def test_pieces_for_the_day_that_more_comes_are_planned_with_it() -> None:
    """A stick of 10 ft serves 2 pieces of 5 ft less the saw cut: the early house's own, the late ones' on the way."""
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    lots = [lot("P1", POST, feet(10), 1, "0.01", available_from=LATE)]
    rows = [pieces("soon", feet(4), 1), pieces("later", feet(4), 2)]
    netting, _ = run(rows, lots, houses=houses)
    assert [(x.lot, [p.house for p in x.pieces], x.times) for x in netting.layouts] == [
        ("", ["soon"], 1),
        ("P1", ["later", "later"], 1),
    ]


def test_counted_things() -> None:
    rows = [TakeoffRow("a", "anchors", "anchor", None, 12, "each", True, "")]
    netting, _ = run(rows, [lot("L1", "anchor", None, 7)])
    assert given_out(netting) == [("a", "L1", 7)]
    assert [(s.material, s.length, s.quantity) for s in netting.shortfalls()] == [("anchor", None, 5)]


def test_offcuts_are_used_before_money_is_spent() -> None:
    lots = [lot("OFF", POST, feet(4), 2, "6", offcut=True), lot("FULL", POST, feet(10), 1, "17")]
    netting, yard = run([pieces("a", feet(4), 4)], lots)
    assert sorted((x.lot, len(x.pieces), x.times) for x in netting.layouts) == [("FULL", 2, 1), ("OFF", 1, 2)]
    assert yard.left == {"OFF": 0, "FULL": 0}
    assert netting.needs == []


def charged(one: Lot, *offers: Offer) -> Decimal:
    """What the cut plan pays for a piece of 3 ft when that lot can serve it."""
    netting, _ = run([pieces("a", feet(3), 1)], [one], season(offers=offers))
    (layout,), (summary,) = netting.layouts, netting.summaries
    assert layout.lot == one.ref
    assert summary.optimal and summary.bound == summary.cost
    return summary.cost


def test_what_a_stick_on_hand_is_charged_at() -> None:
    """What the yard paid, at most 9/10 of the new price of its length, an offcut at most 5/10, so that it is cut
    before money is spent."""
    # New 10 ft at 20.00 are 2.00 a foot; 21 ft at 33.60 are 1.60, the cheapest length.
    new = offer("pipe", POST, feet(10), {1: "20"}), offer("pipe", POST, feet(21), {1: "33.60"})
    full, part = lot("F", POST, feet(10), 1), lot("O", POST, feet(4), 1, offcut=True)
    assert charged(replace(full, unit_cost=Decimal("19.99")), new[0]) == Decimal("18.00")
    assert charged(replace(full, unit_cost=Decimal("17.99")), new[0]) == Decimal("17.99")
    assert charged(replace(full, unit_cost=Decimal(99)), *new) == Decimal("14.40")
    assert charged(replace(part, unit_cost=Decimal(99)), new[0]) == Decimal("4.00")
    assert charged(replace(part, unit_cost=Decimal("3.99")), new[0]) == Decimal("3.99")
    # With nothing on offer there is no such limit.
    assert charged(replace(full, unit_cost=Decimal(99))) == Decimal(99)


def test_the_price_of_a_length_is_that_of_the_break_all_pieces_reach() -> None:
    """11 pieces of 10 ft are 11 sticks: at the break of 11, 15.00 a stick; at 12 and more it is not reached."""
    rows = [pieces("a", feet(10), 11)]
    reached = season(offers=(offer("pipe", POST, feet(10), {1: "20", 11: "15"}),))
    missed = season(offers=(offer("pipe", POST, feet(10), {1: "20", 12: "15"}),))
    assert [run(rows, [], s)[0].summaries[0].cost for s in (reached, missed)] == [165, 220]


def test_a_full_stick_kept_whole_is_not_cut() -> None:
    rows = [whole("a", 5), pieces("a", feet(4), 2, RAIL)]
    netting, _ = run(rows, [lot("L1", RAIL, TEN, 5)])
    assert given_out(netting) == [("a", "L1", 5)]
    assert [(n.material, n.quantity) for n in netting.needs] == [(RAIL, 1)]


def test_sticks_to_buy_are_needed_by_their_first_piece() -> None:
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    netting, _ = run([pieces("later", feet(4), 1), pieces("soon", feet(4), 1)], [], houses=houses)
    (layout,) = netting.layouts
    assert (layout.need_by, layout.times, layout.stick_length) == (EARLY, 1, feet(10))
    assert [p.house for p in layout.pieces] == ["soon", "later"]


def test_lengths_that_come_too_late_are_left_out() -> None:
    """21 ft sticks would be cheaper, but arrive after the early house needs them."""
    offers = (
        offer("pipe", POST, feet(10), {1: "20"}, lead=6),
        offer("tubes", POST, feet(21), {1: "21"}, lead=60),
    )
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    rows = [pieces("soon", feet(4), 5), pieces("later", feet(4), 5)]
    netting, _ = run(rows, [], season(offers=offers), houses)
    used = {(p.house, layout.stick_length) for layout in netting.layouts for p in layout.pieces}
    assert used == {("soon", feet(10)), ("later", feet(21))}


def test_dates_with_different_lengths_add_up_to_one_summary() -> None:
    """Early: 5 of 4 ft from three 10 ft sticks at 20. Late: one 21 ft stick at 21 holds 5 (240 1/2 of 252 in)."""
    offers = (
        offer("pipe", POST, feet(10), {1: "20"}, lead=6),
        offer("tubes", POST, feet(21), {1: "21"}, lead=60),
    )
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    netting, _ = run([pieces("soon", feet(4), 5), pieces("later", feet(4), 5)], [], season(offers=offers), houses)
    (summary,) = netting.summaries
    assert (summary.cost, summary.bound, summary.optimal, summary.kerf) == (81, 81, True, inches("0.125"))


def test_what_arrives_on_the_day_is_in_time() -> None:
    """In 28 days, on 1 March; a day later it is not, unless nothing comes sooner."""
    soon, late = offer("pipe", POST, feet(10), {1: "9"}, lead=28), offer("tubes", POST, feet(21), {1: "1"}, lead=29)
    market = Market.of([soon, late, replace(late, ref="dear", length=feet(10))], season().as_of)
    item = (POST, feet(10))
    assert market.in_time(item, EARLY) == (soon,)
    assert market.in_time(item, EARLY - timedelta(days=9)) == (soon,)
    assert len(market.in_time(item, EARLY + timedelta(days=1))) == 2
    assert (market.price(item, EARLY, 1), market.price(item, EARLY + timedelta(days=1), 1)) == (9, 1)
    assert market.stick_lengths(POST, EARLY) == market.stick_lengths(POST, EARLY - timedelta(days=9)) == (feet(10),)
    assert market.stick_lengths(POST, EARLY + timedelta(days=1)) == (feet(10), feet(21))
    assert market.in_time(("bolt", None), EARLY) == market.stick_lengths("bolt", EARLY) == ()


def test_a_pack_reaches_the_breaks_up_to_its_size() -> None:
    packed = offer("pipe", "bolt", None, {1: "5", 10: "4", 11: "3"}, pack=10)
    market = Market.of([packed], season().as_of)
    assert [market.price(("bolt", None), LATE, n) for n in (1, 10, 11)] == [4, 4, 3]


def test_a_stick_too_short_for_the_longest_piece_still_serves_a_short_one() -> None:
    lots = [lot("OFF", POST, feet(3), 1, offcut=True), lot("EQUAL", POST, feet(2), 1, offcut=True)]
    only = season(offers=(offer("pipe", POST, feet(10), {1: "20"}),))
    netting, _ = run([pieces("a", feet(8), 1), pieces("a", feet(2), 2)], lots, only)
    # 10 ft less 8 ft and a saw cut is too short for 2 ft, so the offcuts, one of them just long enough, save a stick.
    used = {layout.lot: [p.length for p in layout.pieces] for layout in netting.layouts}
    assert used == {"": [feet(8)], "OFF": [feet(2)], "EQUAL": [feet(2)]}


def test_channel_is_butted_from_the_yard_where_nobody_offers_it() -> None:
    none = season(offers=())
    lots = [lot("L1", "channel", feet(12), 3), lot("L2", "channel", feet(7), 1)]
    rows = [TakeoffRow("a", "channel along the house", "channel", feet(30), 1, "pieces", False, "")]
    netting, _ = run(rows, lots, none)
    # 30 ft are 2 sticks of 12 ft and 6 ft.
    assert sorted((p.length, x.lot) for x in netting.layouts for p in x.pieces) == [
        (feet(6), "L2"),
        (feet(12), "L1"),
    ]
    assert netting.unmet == []
    exact = [TakeoffRow("a", "channel along the house", "channel", feet(24), 1, "pieces", False, "")]
    assert [(x.lot, x.times) for x in run(exact, lots, none)[0].layouts] == [("L1", 2)]
    whole = [TakeoffRow("a", "channel along the house", "channel", feet(12), 1, "pieces", False, "")]
    assert [(x.lot, x.times) for x in run(whole, lots, none)[0].layouts] == [("L1", 1)]


def test_channel_is_butted_and_counts_to_the_run() -> None:
    rows = [TakeoffRow("a", "channel along the house", "channel", feet(50), 2, "pieces", False, "")]
    netting, _ = run(rows, [])
    cut = sorted(
        (p.length for layout in netting.layouts for p in layout.pieces for _ in range(layout.times)), reverse=True
    )
    # 50 ft is 4 sticks of 12 ft and 2 ft; twice.
    assert cut == [feet(12)] * 8 + [feet(2)] * 2


def test_film_is_cut_without_a_kerf() -> None:
    rows = [TakeoffRow("a", "film over the house", "film-32", feet(50), 2, "pieces", False, "")]
    netting, _ = run(rows, [])
    (layout,) = netting.layouts
    assert (len(layout.pieces), layout.remainder, layout.stick_length) == (2, 0, feet(100))


def test_what_cannot_be_had_says_why() -> None:
    rows = [pieces("a", feet(30), 2), whole("a", 3, POST, feet(12)), pieces("a", feet(4), 3, "lumber-2x4")]
    nothing = season(offers=(offer("pipe", POST, feet(10), {1: "20"}),))
    netting, _ = run(rows, [lot("L1", "lumber-2x4", feet(5), 1), lot("L2", POST, feet(12), 1)], nothing)
    reasons = {(u.material, u.length, u.quantity): u.reason for u in netting.unmet}
    assert set(reasons) == {(POST, feet(30), 2), (POST, feet(12), 2), ("lumber-2x4", feet(4), 2)}
    assert "30'" in reasons[POST, feet(30), 2]
    assert "10'" in reasons[POST, feet(30), 2]
    assert "1 of 3" in reasons[POST, feet(12), 2]
    assert "nobody offers" in reasons["lumber-2x4", feet(4), 2]
    assert netting.needs == []


def test_expired_offers_are_no_offers() -> None:
    old = season(offers=(offer("pipe", RAIL, TEN, {1: "20"}, valid=date(2027, 1, 31)),))
    netting, _ = run([whole("a", 1)], [], old)
    assert [u.quantity for u in netting.unmet] == [1]


def test_lots_alike_keep_their_refs() -> None:
    lots = [lot(f"L{n}", POST, feet(8), 1, "9", offcut=True) for n in range(1, 6)]
    netting, yard = run([pieces("a", inches(47), 8)], lots)
    assert sorted(layout.lot for layout in netting.layouts) == ["L1", "L2", "L3", "L4"]
    assert yard.left["L5"] == 1


def test_no_more_sticks_are_of_use_than_pieces_go_into_them() -> None:
    """A piece as long as the stick goes into it; one longer does not."""
    offers = tuple(offer("pipe", POST, feet(n), {1: str(n)}) for n in (8, 10, 21))
    netting, _ = run([pieces("a", feet(10), 2), pieces("a", feet(8), 1)], [], season(offers=offers))
    (batch,) = netting.cuts[POST].batches
    assert batch.lengths == (feet(8), feet(10), feet(21))
    assert batch.most == (1, 3, 3)


def test_what_a_later_batch_costs_at_least_is_said_of_a_yard_that_nobody_drew_on() -> None:
    """One offcut of 4 ft for two pieces of 4 ft; sticks of 21 ft come too late for the first of them.

    10 ft at 20.00 is 2.00 a foot, 21 ft at 210.00 is 10.00, so the offcut is charged at 5/10 of 8.00. Cut first from
    it, the late piece takes a stick of 10 ft, 4.00 + 20.00; but the offcut might have been left to the late one.
    """
    offers = (
        offer("pipe", POST, feet(10), {1: "20"}, lead=6),
        offer("tubes", POST, feet(21), {1: "210"}, lead=60),
    )
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    rows = [pieces("soon", feet(4), 1), pieces("later", feet(4), 1)]
    netting, _ = run(rows, [lot("OFF", POST, feet(4), 1, "99", offcut=True)], season(offers=offers), houses)
    first, second = netting.cuts[POST].batches
    assert (first.cost, first.bound, second.cost, second.bound) == (400, 400, 2000, 400)
    (summary,) = netting.summaries
    assert (summary.cost, summary.bound, summary.optimal) == (24, 8, False)
    # Enough of them for both: nothing is taken from the second, and it is proven.
    both, _ = run(rows, [lot("OFF", POST, feet(4), 2, "99", offcut=True)], season(offers=offers), houses)
    assert [(s.cost, s.bound, s.optimal) for s in both.summaries] == [(8, 8, True)]


def test_the_days_of_a_batch_are_those_of_its_houses() -> None:
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    netting, _ = run([pieces("soon", feet(4), 1), pieces("later", feet(4), 1)], [], houses=houses)
    assert [batch.days for batch in netting.cuts[POST].batches] == [(EARLY, LATE)]


def test_no_more_is_taken_of_a_lot_than_it_has() -> None:
    yard = Yard([lot("L1", RAIL, TEN, 2)])
    for too_many in (3, -1):
        with pytest.raises(ValueError, match="lot L1 has 2 left"):
            yard.remove("L1", too_many)
    yard.remove("L1", 2)
    assert yard.left == {"L1": 0}


def test_what_is_ordered_whole_counts_towards_the_break_of_what_is_cut() -> None:
    """6 whole sticks and 5 that are cut, the saw leaving no other way: 11 reach 15.00."""
    given = season(offers=(offer("pipe", POST, feet(10), {1: "20", 11: "15"}),))
    rows = [whole("a", 6, POST, feet(10)), pieces("a", feet(10), 5)]
    assert [s.cost for s in run(rows, [], given)[0].summaries] == [75]
    rows[0] = whole("a", 5, POST, feet(10))
    assert [s.cost for s in run(rows, [], given)[0].summaries] == [100]


def test_common_stock_is_held_against_the_break_that_all_orders_reach() -> None:
    """5 are ordered before it is there; 5 more are 6.00 each, less than its 7.00, and 2 more 10.00."""
    given = season(offers=(offer("pipe", RAIL, TEN, {1: "10", 8: "6"}),))
    houses = (house("soon", TWELVE, need=EARLY), house("later", TWELVE, need=LATE))
    common = lot("C", RAIL, TEN, 5, "7", common="Coop", available_from=EARLY + timedelta(days=1))
    for more, fetched in ((5, []), (2, [("later", "C", 2)])):
        netting, _ = run([whole("soon", 5), whole("later", more)], [common], given, houses)
        assert given_out(netting) == fetched


@pytest.mark.parametrize(("bound", "efforts"), [(97, [1.5, 6.0]), (98, [1.5])])
def test_a_plan_that_is_not_known_to_be_good_is_worked_on_again(
    monkeypatch: pytest.MonkeyPatch, bound: int, efforts: list[float]
) -> None:
    """Of 100, at most 2 might be saved."""
    asked = []

    def made(*_: object, effort: float, **__: object) -> CutPlan:
        asked.append(effort)
        return CutPlan((), 100, bound, False, (), (), "")

    monkeypatch.setattr(cuts, "plan_cuts", made)
    Saw(inches("0.125"), BUYER.units, BUYER.currency).plan([], [], to_grid([TEN, inches("0.125")]))
    assert asked == efforts


def test_at_one_price_an_offcut_is_cut_before_a_full_stick_and_common_stock_taken_before_an_order() -> None:
    """New 10 ft at 20.00 are 2.00 a foot: an offcut of 4 ft is charged 4.00, and a full one what it cost, 4.00 too."""
    given = season(offers=(offer("pipe", POST, feet(10), {1: "20"}), offer("pipe", RAIL, TEN, {1: "10"})))
    lots = [lot("A", POST, feet(4), 1, "4"), lot("Z", POST, feet(4), 1, "99", offcut=True)]
    netting, _ = run([pieces("a", feet(4), 1)], lots, given)
    assert [layout.lot for layout in netting.layouts] == ["Z"]
    netting, _ = run([whole("a", 2)], [lot("C", RAIL, TEN, 5, "10", common="Coop")], given)
    assert given_out(netting) == [("a", "C", 2)]


def test_runs_are_butted_of_lengths_that_can_be_bought() -> None:
    """30 ft are three of 10 ft; one stick of 12 ft in the yard is no measure for them."""
    given = season(offers=(offer("pipe", "channel", feet(10), {1: "20"}),))
    rows = [TakeoffRow("a", "channel along the house", "channel", feet(30), 1, "pieces", False, "")]
    netting, _ = run(rows, [lot("L1", "channel", feet(12), 1)], given)
    assert sorted(p.length for x in netting.layouts for p in x.pieces for _ in range(x.times)) == [feet(10)] * 3
    assert netting.unmet == []
