"""The next best against trying everything without the chosen offer; slips, bundles and a textbook discount."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given

from farmbuild.planning.buying.model import best_offers
from farmbuild.planning.buying.reasons import Reason, reasons, slips, told
from farmbuild.planning.inputs import Offer, Supplier
from farmbuild.planning.netting.market import Item, Market
from tests.planning.seasons import AS_OF, feet, offer
from tests.planning.test_buying import BOLT, bought, cases, cheapest, day, need, packs, supplier


@given(cases())
def test_next_best_against_trying_everything(
    case: tuple[dict[Item, dict[date, int]], list[Offer], list[Supplier]],
) -> None:
    demand, offers, suppliers = case
    choice = best_offers(demand, Market.of(offers, AS_OF), suppliers, places=2, effort=20)
    least = cheapest(demand, offers, suppliers)
    for reason in reasons(demand, offers, suppliers, AS_OF, choice.packs, places=2, effort=20):
        rest = [o for o in offers if o.ref != reason.offer.ref]
        assert reason.proven
        if any(o.material == reason.offer.material for o in rest):
            assert reason.dearer == cheapest(demand, rest, suppliers) - least
            # Without the first to arrive the need itself waits, and then less may be paid.
            market = Market.of(offers, AS_OF)
            if slips(demand, Market.of(rest, AS_OF)) == slips(demand, market):
                assert reason.dearer >= 0
        else:
            assert reason.dearer is None and reason.instead == ()


def test_loose_sticks_and_bundles_are_two_offers_of_one_supplier() -> None:
    loose = offer("a", "bolt", None, {1: "1.00"})
    bundle = replace(offer("a", "bolt", None, {1: "0.80"}, pack=61), ref="a:bundle")
    # 70: a bundle and 9 loose 48.80 + 9 = 57.80; two bundles 97.60; all loose 70.
    assert packs(bought([need(70)], [loose, bundle], [supplier("a")])) == {"a:bolt": 9, "a:bundle": 1}


def test_a_slip_and_an_expired_offer_are_said() -> None:
    offers = [
        offer("a", "bolt", None, {1: "2.00"}, lead=10),
        offer("b", "bolt", None, {1: "1.00"}, lead=12),
        offer("c", "bolt", None, {1: "0.10"}, lead=1, valid=day(-1)),
    ]
    sellers = [supplier("a"), supplier("b"), supplier("c")]
    (reason,) = reasons({BOLT: {day(7): 10}}, offers, sellers, AS_OF, {"a:bolt": 10}, places=2)
    assert (reason.late, reason.dearer, reason.days) == ({day(7): 3}, Decimal(-10), 2)
    said = told(reason, {"a": "Hollow Creek Pipe", "b": "Marsh Supply"}, lambda amount: f"{amount:.2f} USD")
    assert "slips by 3 days" in said and "Marsh Supply, 10.00 USD cheaper, 2 days later" in said
    assert "c: its offer ended on 31 January 2027" in said


def money(amount: Decimal) -> str:
    return f"{amount:.2f} USD"


def test_why_the_others_do_not_serve() -> None:
    """Ten bolts at 1.00 on day 5. The next best comes on the very day of the first need, at 2.00."""
    demand = {BOLT: {day(10): 6, day(20): 4}}
    offers = [
        offer("a", "bolt", None, {1: "1.00"}, lead=5),
        offer("b", "bolt", None, {1: "2.00"}, lead=10),
        offer("c", "bolt", None, {1: "0.10"}, lead=21),
        offer("d", "bolt", None, {1: "0.10"}, lead=1, valid=day(-1)),
        offer("e", "bolt", None, {1: "3.00"}, lead=10, valid=day(0)),
        offer("f", "screw", None, {1: "0.10"}, lead=30),
        offer("f", "bolt", feet(1), {1: "0.10"}, lead=30),
    ]
    sellers = [supplier(code) for code in "abcdef"]
    (reason,) = reasons(demand, offers, sellers, AS_OF, {"a:bolt": 10}, places=2)
    assert (reason.quantity, reason.arrival, reason.need_by, reason.late) == (10, day(5), day(10), {})
    assert (reason.instead, reason.dearer, reason.days, reason.doubt) == ((offers[1],), 10, 5, 0)
    assert [o.supplier for o, _ in reason.refused] == ["c", "d"]
    assert told(reason, {"b": "Marsh Supply"}, money) == (
        "a: 10, there by 6 February 2027 (first need 11 February 2027). Next best: Marsh Supply, 10.00 USD dearer,"
        " 5 days later. c: not there before 22 February 2027; d: its offer ended on 31 January 2027."
    )


def test_packs_are_said_in_pieces_and_a_share_bought_elsewhere_counts() -> None:
    """6 from a bundle of 6 at 0.50 and 2 loose at 1.00; without the bundle 8 loose cost 3.00 more, without the loose
    two bundles 1.00 more."""
    bundle = replace(offer("a", "bolt", None, {1: "0.50"}, pack=6), ref="a:bundle")
    loose = offer("b", "bolt", None, {1: "1.00"}, lead=8)
    packed = {"a:bundle": 1, "b:bolt": 2}
    found = reasons({BOLT: {day(30): 8}}, [bundle, loose], [supplier("a"), supplier("b")], AS_OF, packed, places=2)
    assert [(r.offer, r.quantity, r.instead, r.dearer, r.days) for r in found] == [
        (bundle, 6, (loose,), 3, 0),
        (loose, 2, (bundle,), 1, -2),
    ]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, "Next best: a, 10.00 USD dearer, 2 days later."),
        ({"days": 1}, "10.00 USD dearer, 1 day later."),
        ({"days": -1}, "10.00 USD dearer, 1 day sooner."),
        ({"days": 0}, "10.00 USD dearer, the same day."),
        ({"dearer": Decimal(0)}, "Next best: a, as dear, 2 days later."),
        ({"dearer": Decimal(-3)}, "3.00 USD cheaper, 2 days later."),
        ({"dearer": None}, " No other offer can serve."),
        ({"doubt": Decimal("0.5")}, "later. Not proven: the difference may be off by 0.50 USD."),
        ({"late": {day(3): 1}}, "The need of 4 February 2027 slips by 1 day."),
    ],
)
def test_a_reason_reads_as_it_is(change: dict[str, object], says: str) -> None:
    one, other = offer("a", "bolt", None, {1: "1"}), offer("a", "bolt", None, {1: "2"}, lead=8)
    base = Reason(one, 5, day(6), day(9), {}, (other, other), Decimal(10), 2, Decimal(0), ())
    words = told(replace(base, **change), {}, money)
    assert says in words
    assert words.startswith("a: 5, there by 7 February 2027 (first need 10 February 2027).")
    assert ("Not proven" in words) == ("doubt" in change)


def test_days_slip_only_for_what_is_on_offer() -> None:
    """In 10 days at the earliest: the need of day 10 is met, those before it wait."""
    market = Market.of(
        [offer("a", "bolt", None, {1: "1"}, lead=10), offer("b", "bolt", None, {1: "1"}, lead=12)], AS_OF
    )
    demand = {BOLT: {day(7): 1, day(9): 1, day(10): 1}, ("screw", None): {day(1): 1}}
    assert slips(demand, market) == {BOLT: {day(7): 3, day(9): 1}}


def test_a_seller_that_is_not_on_the_list_cannot_serve_instead() -> None:
    offers = [offer("a", "bolt", None, {1: "1"}), offer("z", "bolt", None, {1: "2"})]
    (reason,) = reasons({BOLT: {day(30): 5}}, offers, [supplier("a")], AS_OF, {"a:bolt": 5}, places=2)
    assert (reason.instead, reason.dearer, reason.days) == ((), None, None)


@pytest.mark.parametrize(("lot", "total"), [(700, "25700"), (1000, "24725"), (2000, "24822.5")])
def test_quantity_discount_of_the_textbook(lot: int, total: str) -> None:
    """Heizer and Render, "Operations Management", Wohl's Discount Store (from memory): D = 5,000 a year, S = 49,
    I = 20 % of price, 5.00, 4.80 from 1,000, 4.75 from 2,000: 25,700, 24,725 and 24,822.50 a year; 1,000 is best.

    The program buys once and holds nothing, so it is given each lot of the book: a solve pays goods, and the
    ordering cost as delivery; holding is added outside.
    """
    price = {1: "5.00", 1000: "4.80", 2000: "4.75"}
    one = bought([need(lot)], [offer("a", "bolt", None, price)], [supplier("a", "49")])
    line = one.orders[0].lines[0]
    year = one.summary.cost * 5000 / line.quantity + Decimal("0.2") * line.unit_price * lot / 2
    assert (line.quantity, year) == (lot, Decimal(total))


def test_buys_up_to_a_break_where_that_costs_less() -> None:
    """The same prices, 961 needed: 961 x 5.00 = 4,805 against 1,000 x 4.80 = 4,800. 960 cost 4,800 either way."""
    price = {1: "5.00", 1000: "4.80", 2000: "4.75"}
    one = bought([need(961)], [offer("a", "bolt", None, price)], [supplier("a", "49")])
    assert (one.orders[0].lines[0].quantity, one.summary.cost) == (1000, Decimal(4849))
