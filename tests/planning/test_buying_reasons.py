"""The next best against trying everything without the chosen offer; slips, bundles and a textbook discount."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given

from farmbuild.planning.buying.model import best_offers
from farmbuild.planning.buying.reasons import reasons, sentence, slips
from farmbuild.planning.inputs import Offer, Supplier
from farmbuild.planning.netting.market import Item, Market
from tests.planning.seasons import AS_OF, offer
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
    said = sentence(reason, {"a": "Hollow Creek Pipe", "b": "Marsh Supply"}, lambda amount: f"{amount:.2f} USD")
    assert "slips by 3 days" in said and "Marsh Supply, 10.00 USD cheaper, 2 days later" in said
    assert "c: its offer ended on 31 January 2027" in said


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
