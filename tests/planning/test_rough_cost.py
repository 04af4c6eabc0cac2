"""About what a house costs: each thing at the offer that is cheapest by itself."""

from __future__ import annotations

import time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from farmbuild.planning.buying.rough import rough_cost
from farmbuild.planning.inputs import Offer, PriceBreak
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow

FOOT = Decimal("304.8")
MATERIALS = {
    code: Material(code, code, kind)
    for code, kind in {
        "rail": Kind.TUBE,
        "board": Kind.LUMBER,
        "channel": Kind.CHANNEL,
        "screw": Kind.FASTENER,
    }.items()
}


def offer(material: str, length, *breaks: tuple[int, str], pack: int = 1, ref: str = "a") -> Offer:
    steps = tuple(PriceBreak(least, Decimal(price)) for least, price in breaks)
    return Offer(ref, "made-up", material, None if length is None else length * FOOT, pack, steps, 0)


def row(material: str, length, quantity: int, **more) -> TakeoffRow:
    more = {"unit": "pieces", "whole": False} | more
    size = None if length is None else Decimal(length) * FOOT
    return TakeoffRow("", "use", material, size, quantity, working="", **more)


def cost(rows, offers, kerf="0"):
    return rough_cost(rows, offers, MATERIALS, kerf=Decimal(kerf))


def test_packs_are_filled_and_breaks_reached_by_all_that_one_offer_sells():
    offers = [offer("screw", None, (1, "0.50"), (100, "0.10"), pack=50)]
    assert cost([row("screw", None, 30), row("screw", None, 40)], offers).amount == Decimal("10.00")
    assert cost([row("screw", None, 30)], offers).amount == Decimal("25.00")


def test_the_cheapest_offer_that_serves_is_taken():
    offers = [offer("screw", None, (1, "0.50")), offer("screw", None, (1, "0.30"), ref="b")]
    assert cost([row("screw", None, 10)], offers).amount == Decimal("3.00")


def test_whole_sticks_are_of_their_length_alone_and_cut_ones_of_any_that_holds_them():
    offers = [offer("rail", 21, (1, "20"))]
    hoops = row("rail", 10, 4, whole=True, unit="sticks")
    posts = row("rail", 4, 11)
    assert cost([hoops], offers).unpriced == ("rail",)
    # Five posts of 4 ft come of a stick of 21 ft: three sticks.
    assert cost([posts], offers).amount == 60
    # One group without an offer leaves the material unpriced, whatever else of it has a price.
    both = cost([hoops, posts], offers)
    assert (both.unpriced, both.priced, both.amount) == (("rail",), 0, 60)


def test_the_saw_takes_its_width_but_for_the_last_cut_of_a_stick():
    offers = [offer("board", 12, (1, "9"))]
    assert cost([row("board", 4, 3)], offers, kerf="0").amount == 9
    assert cost([row("board", 4, 3)], offers, kerf="3").amount == 18
    assert cost([row("board", 12, 1)], offers, kerf="3").amount == 9


def test_a_run_joins_sticks_of_any_length_and_channel_runs_end_to_end():
    run = row("rail", 10, 12, whole=True, unit="sticks", run=48 * FOOT, slide=FOOT / 3, runs=2)
    assert cost([run], [offer("rail", 21, (1, "20"))]).amount == 2 * 3 * 20
    assert cost([row("channel", 48, 2)], [offer("channel", 10, (1, "7"))]).amount == 10 * 7


def test_what_is_longer_than_every_stick_or_slides_over_all_of_it_has_no_price():
    assert cost([row("board", 13, 1)], [offer("board", 12, (1, "9"))]).unpriced == ("board",)
    run = row("rail", 10, 12, whole=True, unit="sticks", run=48 * FOOT, slide=2 * FOOT, runs=2)
    assert cost([run], [offer("rail", 2, (1, "1"))]).unpriced == ("rail",)
    assert cost([row("board", 13, 1)], []).unpriced == ("board",)
    assert cost([], []) == rough_cost([], [], {}, kerf=Decimal(0))


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(1, 96), st.integers(1, 30)), min_size=1, max_size=6),
    st.integers(96, 240),
    st.integers(0, 3),
)
def test_so_many_sticks_hold_the_pieces_and_no_more_than_one_each(pieces, stick, kerf):
    rows = [TakeoffRow("", "use", "board", Decimal(size), count, "pieces", False, "") for size, count in pieces]
    sold = Offer("a", "made-up", "board", Decimal(stick), 1, (PriceBreak(1, Decimal(1)),), 0)
    sticks = cost(rows, [sold], str(kerf)).amount
    total = sum(size * count for size, count in pieces)
    assert -(-total // stick) <= sticks <= sum(count for _, count in pieces)


def test_a_house_of_ten_thousand_hoops_is_priced_at_once():
    rows = [row("rail", 10, 20_000, whole=True, unit="sticks"), *(row("rail", size, 20_000) for size in range(1, 9))]
    began = time.process_time()
    found = cost(rows, [offer("rail", size, (1, "1"), ref=str(size)) for size in range(10, 30)], kerf="3")
    assert found.unpriced == () and time.process_time() - began < 1


@pytest.mark.parametrize("length", [10, None])
def test_an_offer_of_the_wrong_kind_serves_nothing(length):
    wrong = offer("screw", 10, (1, "1")) if length else offer("rail", None, (1, "1"))
    rows = [row("screw", None, 1)] if length else [row("rail", 4, 1)]
    assert cost(rows, [wrong]).priced == 0
