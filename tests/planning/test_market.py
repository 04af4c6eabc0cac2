"""What is on offer and what lies in the yard, looked through one by one."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.inputs import Lot, Offer, PriceBreak
from farmbuild.planning.netting.market import Market
from farmbuild.planning.netting.yard import Yard, natural_key
from tests.size import examples

D = Decimal
TODAY = date(2027, 3, 1)
ITEMS = [("rail", D(3000)), ("rail", D(6400)), ("screw", None)]


def day(after: int) -> date:
    return TODAY + timedelta(days=after)


@st.composite
def offers(draw, most=6):
    found = []
    for ref in range(draw(st.integers(0, most))):
        material, length = draw(st.sampled_from(ITEMS))
        steps = sorted(draw(st.sets(st.integers(1, 30), max_size=3)))
        breaks = tuple(PriceBreak(count, D(draw(st.integers(1, 9)))) for count in steps)
        lead = draw(st.none() | st.integers(0, 4))
        until = draw(st.none() | st.integers(-1, 1).map(day))
        found.append(
            Offer(f"{ref}", draw(st.sampled_from("ab")), material, length, draw(st.integers(1, 5)), breaks, lead, until)
        )
    return draw(st.permutations(found))


@examples(80)
@given(offers(), st.integers(-1, 5).map(day), st.integers(1, 35), st.integers(1, 9).map(D))
def test_what_is_on_offer_by_a_day(listed, by, quantity, price):
    market = Market.of(listed, TODAY)
    holds = [
        offer
        for offer in sorted(listed, key=lambda offer: (offer.supplier, offer.ref))
        if offer.breaks and (offer.valid_until is None or offer.valid_until >= TODAY)
    ]
    firsts = {}
    for item in ITEMS:
        own = [offer for offer in holds if (offer.material, offer.length) == item]
        assert list(market.offers.get(item, ())) == own
        assert market.sells(item) == bool(own)
        if not own:
            assert market.in_time(item, by) == ()
            assert market.beaten_by(item, price, by, quantity)
            continue
        told = [day(offer.lead_days) for offer in own if offer.lead_days is not None]
        firsts[item] = min(told, default=TODAY)
        assert market.first_arrival(item) == firsts[item]
        in_time = [offer for offer in own if offer.lead_days is None or day(offer.lead_days) <= max(by, firsts[item])]
        assert list(market.in_time(item, by)) == in_time
        asked = []
        for offer in in_time:
            reached = [step for step in offer.breaks if step.from_quantity <= max(quantity, offer.pack)]
            asked.append((reached or offer.breaks[:1])[-1].unit_price)
        assert market.price(item, by, quantity) == min(asked)
        assert market.beaten_by(item, price, by, quantity) == (price <= min(asked))
    rails = [length for (material, length) in firsts if material == "rail"]
    first = min((firsts["rail", length] for length in rails), default=TODAY)
    assert list(market.stick_lengths("rail", by)) == sorted(
        length for length in rails if firsts["rail", length] <= max(by, first)
    )
    assert market.stick_lengths("screw", by) == ()


LOTS = st.lists(
    st.builds(
        lambda item, quantity, cost, offcut, site, comes, common: Lot(
            "", *item, quantity, D(cost), "shed", offcut, site, comes, common
        ),
        st.sampled_from(ITEMS),
        st.integers(0, 6),
        st.integers(1, 4),
        st.integers(0, 3).map(lambda n: n == 0),
        st.sampled_from(["", "home", "away"]),
        st.none() | st.integers(-2, 3).map(day),
        st.sampled_from(["", "", "coop"]),
    ),
    max_size=7,
)


@examples(80)
@given(LOTS, st.sampled_from(ITEMS), st.integers(0, 14), st.sampled_from(["", "home"]), st.integers(0, 4), st.data())
def test_lots_are_given_out_one_piece_after_the_other(lots, item, quantity, site, pays, data):
    lots = [Lot(**{**vars(lot), "ref": f"LOT-{at + 8}"}) for at, lot in enumerate(lots)]
    yard = Yard(data.draw(st.permutations(lots)))
    assert [lot.ref for lot in yard.lots] == [lot.ref for lot in lots]
    left = {lot.ref: lot.quantity for lot in lots}
    for wanted in (quantity, 3):
        given_out = {}
        for _ in range(wanted):
            usable = [
                lot
                for lot in lots
                if (lot.material, lot.length) == item
                and not lot.offcut
                and left[lot.ref]
                and (lot.available_from is None or lot.available_from <= TODAY)
                and not (lot.common and lot.unit_cost > pays)
            ]
            if not usable:
                break
            # Own before common, there before on its way, here before elsewhere, old before new.
            best = min(
                usable,
                key=lambda lot: (
                    lot.unit_cost if lot.common else D(0),
                    lot.available_from is not None,
                    not (site and lot.site == site),
                    int(lot.ref[4:]),
                ),
            )
            left[best.ref] -= 1
            given_out[best.ref] = given_out.get(best.ref, 0) + 1
        taken = yard.take(*item, wanted, site, TODAY, lambda lot: lot.unit_cost <= pays)
        assert [(lot.ref, part) for lot, part in taken] == list(given_out.items())
        assert yard.left == left
    assert [lot.ref for lot in yard.every("rail")] == [lot.ref for lot in lots if lot.material == "rail"]
    assert [lot.ref for lot in yard.of("rail")] == [lot.ref for lot in lots if lot.material == "rail" and left[lot.ref]]


def test_no_more_is_taken_off_a_lot_than_it_has():
    yard = Yard([Lot("LOT-1", "rail", D(3000), 2, D(1), "shed")])
    for wrong in (3, -1):
        with pytest.raises(ValueError, match="LOT-1 has 2 left"):
            yard.remove("LOT-1", wrong)
    yard.remove("LOT-1", 0)
    yard.remove("LOT-1", 2)
    assert yard.left == {"LOT-1": 0}


def test_numbers_in_names_are_numbers():
    names = ["A-10b2", "B-1", "A-10", "10", "A-2", "A-10b"]
    assert sorted(names, key=natural_key) == ["10", "A-2", "A-10", "A-10b", "A-10b2", "B-1"]
