"""Lengths of one unit system in the yard of an organisation that works in the other, and marks as a tape has them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem, format_off, tape_mark
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.results import CutLayout, CutPiece, SeasonPlan
from farmbuild.planning.season.marks import marks_of
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import BUYER, LOW, OFFERS, TWELVE, feet, house, inches, offer, season

POST, FILM = "rail-1-5-8", "film-32"
METRE = Decimal(1000)


def lot(material: str, length: Decimal, quantity: int) -> Lot:
    return Lot("L1", material, length, quantity, Decimal(5), "rack")


def planned(spec: HouseSpec, *lots: Lot, units: UnitSystem, **changes: object) -> SeasonPlan:
    given_in: Season = season(house("h", spec), lots=lots, buyer=replace(BUYER, units=units), **changes)
    return plan_season(given_in)


def bought(plan: SeasonPlan, material: str) -> list[tuple[Decimal | None, int]]:
    return [(line.length, line.quantity) for order in plan.orders for line in order.lines if line.material == material]


def test_posts_of_a_metre_and_a_half_in_an_imperial_yard() -> None:
    # 17 hoops of 2 posts are 34.
    sizes = {"length": feet(64), "post_length": Decimal("1.5") * METRE, "side_closing": "open"}
    spec = replace(TWELVE, **sizes, brace_material="", brace_count=0)
    plan = planned(spec, lot(POST, Decimal("1.5") * METRE, 34), units=UnitSystem.IMPERIAL)
    assert bought(plan, POST) == []
    assert sum(layout.times for layout in plan.layouts if layout.lot == "L1") == 34
    assert all(layout.uncut for layout in plan.layouts if layout.lot == "L1")
    assert plan.unmet == ()


def test_posts_of_four_feet_in_a_metric_yard() -> None:
    # 12 hoops of 2 posts are 24.
    spec = replace(TWELVE, length=feet(44), post_length=inches(48), brace_material="", brace_count=0)
    plan = planned(spec, lot(POST, inches(48), 24), units=UnitSystem.METRIC)
    assert bought(plan, POST) == []
    assert sum(layout.times for layout in plan.layouts if layout.lot == "L1") == 24
    assert plan.unmet == ()


@pytest.mark.parametrize("units", UnitSystem)
def test_a_brace_as_long_as_its_stick(units: UnitSystem) -> None:
    offers = (*(o for o in OFFERS if o.material != POST), offer("pipe", POST, 6 * METRE, {1: "30.00"}))
    spec = replace(TWELVE, post_length=Decimal("1.2") * METRE, brace_length=6 * METRE)
    plan = planned(spec, units=units, offers=offers)
    assert plan.unmet == ()
    braces = [row for row in plan.layouts if row.pieces[0].purpose == "corner braces"]
    assert [(row.pieces[0].length, row.times, row.uncut) for row in braces] == [(6 * METRE, 4, True)]


@pytest.mark.parametrize("units", UnitSystem)
def test_film_as_long_as_its_roll(units: UnitSystem) -> None:
    spec = replace(LOW, length=17 * METRE, film_end_allowance=Decimal("1.5") * METRE)
    offers = (*(o for o in OFFERS if o.material != FILM), offer("grow", FILM, 20 * METRE, {1: "200.00"}))
    plan = planned(spec, units=units, offers=offers)
    assert plan.unmet == ()
    assert bought(plan, FILM) == [(20 * METRE, 1)]


def stick(length: Decimal, *pieces: Decimal) -> CutLayout:
    rest = max(Decimal(0), length - sum(pieces))
    return CutLayout(POST, "", "", length, tuple(CutPiece(p, "h", "posts") for p in pieces), 1, rest, date(2027, 4, 5))


def test_marks_are_lines_of_a_tape_with_what_they_are_off() -> None:
    # 1500 mm is 59.0551 in: the line at 59 1/16 is 0.0074 in too far; with the cut, 1503 + 1500 = 118.2283 in, and the
    # line at 118 1/4 is 0.0217 in too far.
    first, second = marks_of(stick(feet(21), Decimal(1500), Decimal(1500)), Decimal(3), UnitSystem.IMPERIAL)
    assert first and second
    assert (first.shown, first.off_text) == (inches("59.0625"), '0.01" over')
    assert (second.at, second.shown, second.off_text) == (Decimal(3003), inches("118.25"), '0.02" over')


def test_a_mark_in_a_metric_yard() -> None:
    # 48 in is 1219.2 mm, so 1219 is 0.2 mm short; two with a cut of 3 mm are 2441.4.
    marks = list(marks_of(stick(6 * METRE, inches(48), inches(48)), Decimal(3), UnitSystem.METRIC))
    assert [mark and (mark.shown, mark.off_text) for mark in marks] == [
        (Decimal(1219), "0.2 mm short"),
        (Decimal(2441), "0.4 mm short"),
    ]


def test_a_mark_on_a_line_says_nothing() -> None:
    (mark,) = marks_of(stick(feet(10), feet(4)), inches("0.125"), UnitSystem.IMPERIAL)
    assert mark and (mark.shown, mark.off_text) == (feet(4), "")


def test_the_end_of_a_stick_is_no_mark() -> None:
    assert list(marks_of(stick(6 * METRE, 6 * METRE), Decimal(3), UnitSystem.IMPERIAL)) == [None]
    # 1 m, a cut of 3 mm and 1 m: the second ends with the stick.
    first, second = marks_of(stick(2 * METRE + 3, METRE, METRE), Decimal(3), UnitSystem.METRIC)
    assert first and first.at == METRE and second is None
    # A lot cut by an earlier plan, 1 mm longer than is wanted, is used as it is.
    assert list(marks_of(stick(METRE + 1, METRE), Decimal(3), UnitSystem.METRIC)) == [None]


@given(
    st.decimals(min_value=1, max_value=20_000, places=6),
    st.decimals(min_value="0.000001", max_value=50, places=6),
    st.sampled_from(UnitSystem),
)
def test_no_mark_lies_beyond_its_stick(at: Decimal, rest: Decimal, units: UnitSystem) -> None:
    step = Decimal("25.4") / 16 if units is UnitSystem.IMPERIAL else Decimal(1)
    mark = tape_mark(at, at + rest, units)
    assert mark % step == 0
    assert mark < at + rest
    assert abs(mark - at) <= step / 2 or (mark <= at and at - mark < step)


def test_what_is_too_little_to_read_is_still_said() -> None:
    assert format_off(Decimal("-0.1"), UnitSystem.IMPERIAL) == 'less than 0.01" short'
    assert format_off(Decimal("0.04"), UnitSystem.METRIC) == "less than 0.1 mm over"
    assert format_off(Decimal(0), UnitSystem.METRIC) == ""
