"""The choice of offers against trying everything, and the rules of an order one by one."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.buying.model import best_offers
from farmbuild.planning.buying.plan import Bought, buy
from farmbuild.planning.buying.sums import LineDays
from farmbuild.planning.inputs import Offer, PriceBreak, Supplier
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.netting.plan import Need
from tests.planning.seasons import AS_OF, BUYER, BY_CODE, feet, inches, offer
from tests.size import examples

BOLT: Item = ("bolt", None)
SCREW: Item = ("screw", None)


def day(n: int) -> date:
    return AS_OF + timedelta(days=n)


def supplier(code: str, delivery: str = "0", free: str | None = None, minimum: str = "0") -> Supplier:
    return Supplier(
        code,
        code,
        delivery_charge=Decimal(delivery),
        free_delivery_from=None if free is None else Decimal(free),
        minimum_order=Decimal(minimum),
    )


def need(quantity: int, by: int = 30, item: Item = BOLT) -> Need:
    return Need(item[0], item[1], quantity, day(by), "h", "p")


def bought(needs: list[Need], offers: list[Offer], suppliers: list[Supplier]) -> Bought:
    return buy(needs, Market.of(offers, AS_OF), suppliers, BY_CODE, BUYER, delivery_site="north")


def packs(found: Bought) -> dict[str, int]:
    return {line.offer: line.packs for order in found.orders for line in order.lines}


def test_whole_packs() -> None:
    found = bought([need(41)], [offer("a", "bolt", None, {1: "0.50"}, pack=25)], [supplier("a")])
    (line,) = found.orders[0].lines
    assert (line.needed, line.pack, line.packs, line.quantity, line.line_total) == (41, 25, 2, 50, Decimal("25.00"))


def test_a_break_may_be_worth_buying_more_for() -> None:
    # 90 at 1.00 is 90; 100 at 0.80 is 80.
    found = bought([need(90)], [offer("a", "bolt", None, {1: "1.00", 100: "0.80"})], [supplier("a")])
    assert packs(found) == {"a:bolt": 100}
    assert found.orders[0].goods == Decimal("80.00")


def test_quantity_discount_all_units() -> None:
    """Three price levels worked by hand: 700 at 4.60 = 3220; a break up, 1000 at 4.50 = 4500; so 700."""
    offers = [offer("a", "bolt", None, {1: "5.00", 500: "4.60", 1000: "4.50"})]
    assert packs(bought([need(700)], offers, [supplier("a")])) == {"a:bolt": 700}
    # 960 at 4.60 = 4416, 1000 at 4.50 = 4500; 980 at 4.60 = 4508: now the break is worth reaching.
    assert packs(bought([need(960)], offers, [supplier("a")])) == {"a:bolt": 960}
    assert packs(bought([need(980)], offers, [supplier("a")])) == {"a:bolt": 1000}


def test_one_delivery_may_beat_two_cheap_prices() -> None:
    offers = [
        offer("a", "bolt", None, {1: "1.00"}),
        offer("a", "screw", None, {1: "1.00"}),
        offer("b", "screw", None, {1: "0.90"}),
    ]
    suppliers = [supplier("a", "10"), supplier("b", "10")]
    found = bought([need(50), need(50, item=SCREW)], offers, suppliers)
    # a alone: 100 + 10 = 110; both: 95 + 20 = 115.
    assert [order.supplier for order in found.orders] == ["a"]
    assert found.summary.cost == Decimal("110.00")
    # With 200 screws: a alone 260; both 50 + 180 + 20 = 250.
    found = bought([need(50), need(200, item=SCREW)], offers, suppliers)
    assert [order.supplier for order in found.orders] == ["a", "b"]
    assert found.summary.cost == Decimal("250.00")


def test_free_delivery_is_reached_when_worth_it() -> None:
    # 95 + 20 delivery = 115, or 100 pieces and no delivery = 100.
    found = bought([need(95)], [offer("a", "bolt", None, {1: "1.00"})], [supplier("a", "20", free="100")])
    assert (packs(found), found.orders[0].delivery, found.summary.cost) == ({"a:bolt": 100}, 0, 100)
    # From 60 it would take 40 more to save 20.
    found = bought([need(60)], [offer("a", "bolt", None, {1: "1.00"})], [supplier("a", "20", free="100")])
    assert (packs(found), found.orders[0].delivery) == ({"a:bolt": 60}, Decimal(20))


def test_minimum_order() -> None:
    offers = [offer("a", "bolt", None, {1: "1.00"}), offer("b", "bolt", None, {1: "1.40"})]
    suppliers = [supplier("a", minimum="50"), supplier("b")]
    # 30 from b is 42, less than the 50 that a asks for; 40 from b is 56.
    assert packs(bought([need(30)], offers, suppliers)) == {"b:bolt": 30}
    found = bought([need(40)], offers, suppliers)
    assert packs(found) == {"a:bolt": 50}
    assert found.orders[0].lines[0].needed == 40


def test_dear_but_in_time_for_the_early_need_only() -> None:
    offers = [
        offer("quick", "bolt", None, {1: "2.00"}, lead=2),
        offer("slow", "bolt", None, {1: "1.00"}, lead=20),
    ]
    found = bought([need(10, by=5), need(30, by=25)], offers, [supplier("quick"), supplier("slow")])
    assert packs(found) == {"quick:bolt": 10, "slow:bolt": 30}
    assert [line.late_days for order in found.orders for line in order.lines] == [0, 0]
    assert [order.order_by for order in found.orders] == [day(3), day(5)]


def test_nothing_in_time_takes_the_first_to_arrive_and_says_how_late() -> None:
    offers = [
        offer("quick", "bolt", None, {1: "9.00"}, lead=10),
        offer("slow", "bolt", None, {1: "1.00"}, lead=20),
    ]
    found = bought([need(10, by=7)], offers, [supplier("quick"), supplier("slow")])
    (line,) = found.orders[0].lines
    assert (line.offer, line.late_days, line.need_by) == ("quick:bolt", 3, day(7))
    assert found.orders[0].order_by == AS_OF


def test_an_offer_holds_until_its_last_day() -> None:
    offers = [offer("a", "bolt", None, {1: "1.00"}, lead=2, valid=day(4))]
    found = bought([need(10, by=30)], offers, [supplier("a")])
    assert found.orders[0].order_by == day(4)
    assert Market.of(offers, day(4)).sells(BOLT)
    assert not Market.of(offers, day(5)).sells(BOLT)


def test_an_offer_without_prices_is_none() -> None:
    assert not Market.of([offer("a", "bolt", None, {})], AS_OF).sells(BOLT)


def test_tax_and_totals_are_rounded_half_up_at_the_line() -> None:
    # 7 x 0.075 = 0.525, half up 0.53; tax 6.25 % of 0.53 = 0.033125, 0.03.
    found = bought([need(7)], [offer("a", "bolt", None, {1: "0.075"})], [supplier("a", "4")])
    order = found.orders[0]
    assert (order.goods, order.tax, order.delivery, order.total) == tuple(
        Decimal(x) for x in ("0.53", "0.03", "4", "4.56")
    )


def test_weight_is_of_the_tube() -> None:
    rail = Need("rail-1-3-8", feet(10), 100, day(30), "h", "p")
    offers = [offer("a", "rail-1-3-8", feet(10), {1: "10"}), offer("a", "bolt", None, {1: "1"})]
    found = bought([rail, need(5)], offers, [supplier("a")])
    # pi (1.375 - 0.065) 0.065 in2 x 12 in x 0.2836 lb/in3 = 0.9104 lb/ft; 1000 ft = 910.4 lb = 412.9 kg.
    assert float(found.orders[0].weight_kg or 0) == pytest.approx(412.9, abs=0.3)
    assert bought([need(5)], offers, [supplier("a")]).orders[0].weight_kg is None


@pytest.mark.parametrize(
    "unknown", [{"width": None}, {"thickness": None}, {"thickness": inches("0.7")}], ids=["width", "wall", "no bore"]
)
def test_weight_is_not_said_for_a_tube_of_unknown_section(unknown: dict[str, Decimal | None]) -> None:
    rail, post = (Need(f"rail-1-{size}-8", feet(10), 10, day(30), "h", "p") for size in (3, 5))
    offers = [offer("a", n.material, feet(10), {1: "10"}) for n in (rail, post)]
    materials = BY_CODE | {rail.material: replace(BY_CODE[rail.material], **unknown)}

    def weight(*needs: Need) -> Decimal | None:
        found = buy(needs, Market.of(offers, AS_OF), [supplier("a")], materials, BUYER, delivery_site="north")
        return found.orders[0].weight_kg

    # pi (1.66 - 0.065) 0.065 in2 x 12 in x 0.2836 lb/in3 = 1.1084 lb/ft; 100 ft are 110.8 lb, 50.3 kg.
    assert weight(post) == Decimal("50.3")
    assert weight(rail) is weight(rail, post) is None


def test_what_nobody_offers_is_an_error_here() -> None:
    with pytest.raises(ValueError, match="nobody offers bolt"):
        bought([need(5)], [], [])


def test_nothing_to_buy() -> None:
    found = bought([], [offer("a", "bolt", None, {1: "1"})], [supplier("a", minimum="500")])
    assert (found.orders, found.summary.cost, found.summary.optimal) == ((), 0, True)


@st.composite
def cases(
    draw: st.DrawFn, *, fractions: bool = False
) -> tuple[dict[Item, dict[date, int]], list[Offer], list[Supplier]]:
    """Two suppliers and at most 3 offers, so that everything can be tried; ``fractions``: prices that are not whole
    coins, and levels of the suppliers at or beside what some line of theirs comes to."""
    prices = st.integers(2, 9).map(Decimal)
    if fractions:
        prices = st.builds(
            Decimal.__add__, prices, st.sampled_from([Decimal(x) for x in ("0", "0.005", "0.25", "0.5")])
        )
    demand: dict[Item, dict[date, int]] = {}
    offers = []
    for item in (BOLT, SCREW)[: draw(st.integers(1, 2))]:
        demand[item] = {
            day(n): draw(st.integers(1, 4)) for n in sorted(draw(st.sets(st.sampled_from([3, 6, 9]), min_size=1)))
        }
        sellers = [("a",), ("b",)] if item == SCREW else [("a",), ("a", "b")]
        for code in draw(st.sampled_from(sellers)):
            first = draw(prices)
            breaks = {draw(st.sampled_from([1, 1, 2])): first}
            if draw(st.booleans()):
                breaks[draw(st.integers(3, 6))] = draw(prices)
            offers.append(
                replace(
                    offer(code, item[0], None, {}, pack=draw(st.integers(1, 3)), lead=draw(st.sampled_from([2, 5, 8]))),
                    breaks=tuple(PriceBreak(n, p) for n, p in breaks.items()),
                )
            )
    lines = [o.breaks[0].unit_price * o.pack * n for o in offers for n in (1, 2, 3)] if fractions else []
    beside = [Decimal(x) for x in ("0", "0.005", "0.01", "-0.01", "1", "-1")]
    levels = st.builds(Decimal.__add__, st.sampled_from(lines), st.sampled_from(beside)) if lines else st.nothing()
    suppliers = [
        supplier(
            code,
            str(draw(st.integers(0, 8))),
            draw(st.one_of(st.none(), st.integers(5, 25).map(str), levels.map(str))),
            str(draw(st.one_of(st.sampled_from([0, 0, 6, 12]), levels))),
        )
        for code in ("a", "b")
    ]
    return demand, offers, suppliers


def paid(one: Offer, quantity: int, places: int = 2) -> Decimal | None:
    """A line of an offer, by the rule of its breaks, half up to whole coins; None when fewer than it sells."""
    if not quantity:
        return Decimal(0)
    prices = [b.unit_price for b in one.breaks if b.from_quantity <= quantity]
    if not prices:
        return None
    coins = prices[-1] * quantity * 10**places
    return Decimal(math.floor(coins + Decimal("0.5"))) / 10**places


def covers(demand: Mapping[Item, Mapping[date, int]], offers: list[Offer], counts: tuple[int, ...]) -> bool:
    """Served day by day; what nothing reaches in time is served on the first arrival."""
    for item, days in demand.items():
        own = [
            (AS_OF + timedelta(days=o.lead_days), n * o.pack)
            for o, n in zip(offers, counts, strict=True)
            if o.material == item[0]
        ]
        first = min(arrival for arrival, _ in own)
        due: dict[date, int] = {}
        for when, quantity in days.items():
            due[max(when, first)] = due.get(max(when, first), 0) + quantity
        for when in due:
            asked = sum(q for d, q in due.items() if d <= when)
            if sum(q for arrival, q in own if arrival <= when) < asked:
                return False
    return True


def cheapest(
    demand: Mapping[Item, Mapping[date, int]], offers: list[Offer], suppliers: list[Supplier], places: int = 2
) -> Decimal:
    """Every count of packs of every offer, up to more than could ever pay."""
    best = None
    most = []
    for o in offers:
        total = sum(demand[o.material, None].values())
        lowest = min(int(b.unit_price) for b in o.breaks)
        s = next(s for s in suppliers if s.code == o.supplier)
        extra = (int(s.minimum_order) + int(s.delivery_charge)) // lowest + 2
        most.append((max(total, *(b.from_quantity for b in o.breaks)) + extra) // o.pack + 1)
    for counts in itertools.product(*(range(n + 1) for n in most)):
        goods: dict[str, Decimal] = {}
        for o, n in zip(offers, counts, strict=True):
            cost = paid(o, n * o.pack, places)
            if cost is None:
                break
            if n:
                goods[o.supplier] = goods.get(o.supplier, Decimal(0)) + cost
        else:
            total = Decimal(0)
            for s in suppliers:
                if s.code not in goods:
                    continue
                if goods[s.code] < s.minimum_order:
                    break
                free = s.free_delivery_from is not None and goods[s.code] >= s.free_delivery_from
                total += goods[s.code] + (0 if free else s.delivery_charge)
            else:
                if (best is None or total < best) and covers(demand, offers, counts):
                    best = total
    assert best is not None
    return best


@examples(80, 2000)
@given(cases())
def test_against_trying_everything(
    case: tuple[dict[Item, dict[date, int]], list[Offer], list[Supplier]],
) -> None:
    demand, offers, suppliers = case
    offers = sorted(offers, key=lambda o: (o.supplier, o.ref))
    choice = best_offers(demand, Market.of(offers, AS_OF), suppliers, places=2, effort=20)
    assert choice.optimal
    assert choice.cost == choice.bound == cheapest(demand, offers, suppliers)


@examples(50, 1200)
@given(cases(fractions=True), st.sampled_from([0, 2]))
def test_lines_of_odd_prices_against_trying_everything(
    case: tuple[dict[Item, dict[date, int]], list[Offer], list[Supplier]], places: int
) -> None:
    """In a currency with small coins and one without: levels are met by the lines as rounded, to the coin."""
    demand, offers, suppliers = case
    offers = sorted(offers, key=lambda o: (o.supplier, o.ref))
    choice = best_offers(demand, Market.of(offers, AS_OF), suppliers, places=places, effort=20)
    assert choice.optimal
    assert choice.cost == choice.bound == cheapest(demand, offers, suppliers, places)


def test_a_minimum_order_is_met_by_the_lines_as_rounded() -> None:
    bolts = [offer("a", "bolt", None, {1: "0.125"})]
    # 11 x 0.125 = 1.375, half up 1.38: what is asked, though 1.375 is not.
    found = bought([need(11)], bolts, [supplier("a", minimum="1.38")])
    assert (packs(found), found.summary.cost) == ({"a:bolt": 11}, Decimal("1.38"))
    # A coin more, and a bolt more: 1.50.
    found = bought([need(11)], bolts, [supplier("a", minimum="1.39")])
    assert (packs(found), found.summary.cost) == ({"a:bolt": 12}, Decimal("1.50"))
    # 13 x 0.1149 = 1.4937, rounded down to 1.49, which misses 1.4937.
    found = bought([need(13)], [offer("a", "bolt", None, {1: "0.1149"})], [supplier("a", minimum="1.4937")])
    assert (packs(found), found.summary.cost) == ({"a:bolt": 14}, Decimal("1.61"))


def test_a_minimum_order_of_things_far_below_a_coin() -> None:
    """At 0.001 a piece 995 of them come to 0.995, half up 1.00, and so do 1,004; delivery is free from there."""
    found = bought([need(1)], [offer("a", "bolt", None, {1: "0.001"})], [supplier("a", "5", "1", "1")])
    assert 995 <= packs(found)["a:bolt"] <= 1004
    assert (found.summary.cost, found.summary.bound) == (1, 1)
    assert found.orders[0].delivery == 0


def test_delivery_is_charged_in_whole_coins() -> None:
    found = bought([need(4)], [offer("a", "bolt", None, {1: "0.50"})], [supplier("a", "2.125")])
    assert (found.orders[0].delivery, found.summary.cost, found.summary.bound) == tuple(
        Decimal(x) for x in ("2.13", "4.13", "4.13")
    )


@given(cases())
def test_orders_agree_with_the_choice(
    case: tuple[dict[Item, dict[date, int]], list[Offer], list[Supplier]],
) -> None:
    """Lines serve all that is needed, in time wherever anything could be, and add up."""
    demand, offers, suppliers = case
    needs = [Need(item[0], item[1], n, when, "h", "p") for item, days in demand.items() for when, n in days.items()]
    found = bought(needs, offers, suppliers)
    lines = [line for order in found.orders for line in order.lines]
    for item, days in demand.items():
        assert sum(line.needed for line in lines if line.material == item[0]) == sum(days.values())
        first = min(o.lead_days for o in offers if o.material == item[0])
        worst = max(0, max(first - (when - AS_OF).days for when in days))
        assert max(line.late_days for line in lines if line.material == item[0]) == worst
    assert all(line.quantity == line.packs * line.pack >= line.needed for line in lines)
    assert found.summary.cost == sum(order.goods + order.delivery for order in found.orders)
    assert found.summary.optimal and found.summary.bound == found.summary.cost
    for order in found.orders:
        asked = next(s for s in suppliers if s.code == order.supplier)
        assert order.goods >= asked.minimum_order


def test_what_comes_in_time_is_no_days_late() -> None:
    line = LineDays(date(2027, 3, 10), lead_days=9)
    assert [line.late_days(date(2027, 3, day)) for day in (1, 2)] == [0, 1]
    assert line.late_days(date(2027, 2, 1)) == 0
    assert LineDays(date(2027, 3, 10)).late_days(date(2027, 4, 1)) == 0
