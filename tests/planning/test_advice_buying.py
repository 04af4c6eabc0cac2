"""Other ways to buy: one stick length alone, a later delivery, orders of any size; by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.planning.advice.buying import NoLeast, OneLength, Wait, _days, buying_advice
from farmbuild.planning.advice.proof import Saving, pays
from farmbuild.planning.inputs import Season
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import AS_OF, SUPPLIERS, feet, offer
from tests.planning.test_advice import season

#: 26 posts of 50 1/2 in. Of 21 ft come 4 each: 6 sticks of 4, and 2 left over; of 9 ft 2 each: 13 sticks.
POST = Decimal("50.5") * Decimal("25.4")


def with_offers(*more: tuple[Decimal, str], lead: int = 7) -> Season:
    """Pipe for the posts in 21 ft at 34.00 and in other lengths; nothing else is cut in several."""
    base = season(POST)
    added = tuple(replace(offer("pipe", "rail-1-5-8", length, {1: price}), lead_days=lead) for length, price in more)
    return replace(base, offers=base.offers + added)


def advice(asked: Season) -> list[Saving]:
    return buying_advice(asked, plan_season(asked))


def of(found: list[Saving], kind: type) -> dict[object, Decimal]:
    return {one.change: one.saved for one in found if isinstance(one.change, kind)}


def test_one_length_alone_costs_what_the_other_would_save():
    """Of 21 ft at 34.00 and 9 ft at 18.00: 6 x 34 + 18 = 222.00 with both, as 2 posts come from one of 9 ft; of 21 ft
    alone 7 x 34 = 238.00; of 9 ft alone 13 x 18 = 234.00. Tax is on each."""
    found = of(advice(with_offers((feet(9), "18.00"))), OneLength)
    tax = 1 + Decimal(str(season(POST).buyer.tax_percent)) / 100
    assert {one.length: round(saved / tax, 2) for one, saved in found.items()} == {
        feet(9): Decimal("-12.00"),
        feet(21): Decimal("-16.00"),
    }


def test_a_length_too_short_for_a_piece_is_not_asked_for():
    found = of(advice(with_offers((feet(4), "1.00"))), OneLength)
    assert {one.length for one in found} == {feet(21)}
    # One as long as the piece serves it.
    assert {one.length for one in of(advice(with_offers((POST, "9.00"))), OneLength)} == {POST, feet(21)}


def test_of_a_material_in_one_length_nothing_is_said():
    assert of(advice(season(POST)), OneLength) == {}


def test_a_cheaper_supplier_who_comes_too_late_is_worth_waiting_for():
    """Needed on 1 June; who delivers at half the price comes three weeks later."""
    base = season(POST)
    need = base.houses[0].need_date
    days = (need - AS_OF).days + 21
    late = replace(offer("tubes", "rail-1-5-8", feet(21), {1: "17.00"}), lead_days=days)
    suppliers = tuple(one for one in SUPPLIERS if one.code in ("pipe", "tubes"))
    asked = replace(base, offers=(*base.offers, late), suppliers=suppliers)
    plan = plan_season(asked)
    (wait,) = (one for one in buying_advice(asked, plan) if isinstance(one.change, Wait))
    assert wait.change == Wait(("h0",), (need,), need + timedelta(days=21))
    # By full plans: the season as if the house were needed on that day.
    waited = plan_season(
        replace(asked, houses=tuple(replace(house, need_date=need + timedelta(days=21)) for house in asked.houses))
    )
    assert wait.saved == pays(plan) - pays(waited) > 0
    # Sixty days on somebody waits, and then nobody any more.
    for days, waits in ((60, 1), (61, 0)):
        far = replace(late, lead_days=(need - AS_OF).days + days)
        assert len(of(advice(replace(asked, offers=(*base.offers, far))), Wait)) == waits


def test_who_needs_it_on_the_day_it_comes_does_not_wait():
    base = season(POST, POST, POST)
    need = base.houses[0].need_date
    late = replace(offer("pipe", "rail-1-5-8", feet(21), {1: "17.00"}), lead_days=(need - AS_OF).days + 21)
    houses = tuple(
        replace(house, need_date=need + timedelta(days=days))
        for house, days in zip(base.houses, (0, 20, 21), strict=True)
    )
    (wait,) = _days(replace(base, houses=houses, offers=(*base.offers, late)))
    assert wait == Wait(("h0", "h1"), (need, need + timedelta(days=20)), need + timedelta(days=21))


def test_a_least_order_that_makes_the_plan_dearer_is_told_with_what_it_costs():
    """Who takes nothing below 5,000.00 is cheaper by 4.00 a stick, and the plan cannot go there."""
    base = season(POST)
    cheap = offer("tubes", "rail-1-5-8", feet(21), {1: "30.00"})
    tubes = replace(next(one for one in SUPPLIERS if one.code == "tubes"), minimum_order=Decimal(5000))
    tubes = replace(tubes, delivery_charge=Decimal(0))
    asked = replace(base, offers=(*base.offers, cheap), suppliers=(*base.suppliers, tubes))
    plan = plan_season(asked)
    found = [one for one in buying_advice(asked, plan) if isinstance(one.change, NoLeast)]
    assert {one.change for one in found} == {NoLeast("tubes", Decimal(5000))}
    free = plan_season(replace(asked, suppliers=(*base.suppliers, replace(tubes, minimum_order=Decimal(0)))))
    assert found[0].saved == pays(plan) - pays(free) > 0


def test_ended_early_no_more_are_tried_and_the_same_season_gives_the_same():
    asked = with_offers((feet(9), "18.00"))
    plan = plan_season(asked)
    assert buying_advice(asked, plan) == buying_advice(asked, plan)
    told: list[object] = []
    some = buying_advice(asked, plan, progress=lambda done, of, one: told.append(one), ended=lambda: bool(told))
    assert len(some) <= 1 and len(set(told)) == 1
    assert date(2027, 6, 1) == asked.houses[0].need_date
