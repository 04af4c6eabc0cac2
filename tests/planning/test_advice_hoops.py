"""Hoops for a span, by hand: a half circle is 2 r wide, what is longer stands on legs; sprung in within the yield."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.planning.advice.hoops import MOST_LEG, Bends, Stick, hoops_for_span, on_any_radius
from farmbuild.planning.house.spring import most_spring_in
from farmbuild.planning.materials import Kind, Material
from tests.planning.seasons import feet, inches

#: 1-3/8 in fence rail, wall 0.065 in, 50 ksi: sizes as in the other tests.
RAIL = Material("rail", "Rail", Kind.TUBE, inches("1.375"), inches("0.065"), swaged=True, yield_mpa=Decimal(345))
CONDUIT = Material("conduit", "Conduit", Kind.TUBE, inches("0.922"), inches("0.049"), swaged=False)
SLIDE = inches(4)


def ways(span, *benders, sticks=None, **more):
    usual = [Stick(RAIL, feet("10.5"), Decimal(20))]
    return hoops_for_span(span, benders, usual if sticks is None else sticks, insertion=SLIDE, **more)


def test_two_sticks_of_ten_and_a_half_feet_on_a_radius_of_six_feet():
    """2 x 126 - 4 = 248 in of pipe; a half circle of 72 in takes 226.1947: two legs of 10.9027 in, 144 in wide."""
    (way,) = ways(feet(12), Bends("Own", feet(6)))
    assert (way.sticks, way.bender, way.price) == (2, "Own", Decimal(40))
    assert way.hoop.leg == pytest.approx(float(inches("10.9027")), abs=0.01)
    assert float(way.rise) == pytest.approx(float(inches("82.9027")), abs=0.01)
    assert way.inward == 0


def test_an_arc_short_of_a_half_circle_is_as_wide_as_its_chord():
    """One stick of 126 in on 48 in turns 2.625 rad: 2 x 48 x sin(1.3125) = 92.83 in wide, 35.7 high."""
    (way,) = ways(inches("92.8"), Bends("Small", inches(48)))
    assert way.sticks == 1
    assert way.hoop.span == pytest.approx(float(inches(1)) * 96 * math.sin(1.3125))
    assert float(way.rise) == pytest.approx(25.4 * 48 * (1 - math.cos(1.3125)), abs=1e-5)


def test_a_hoop_narrower_than_the_posts_is_none_and_neither_one_too_wide():
    made = Decimal(repr(round(ways(inches("92.8"), Bends("Small", inches(48)))[0].hoop.span, 6)))
    assert ways(made + Decimal("0.01"), Bends("Small", inches(48))) == []
    limit = ways(made, Bends("Small", inches(48)))[0].limit
    least = min(limit, most_spring_in(made))
    held = ways(made - least + 1, Bends("Small", inches(48)))
    assert [way.inward <= way.limit for way in held] == [True]
    assert ways(made - limit - 1, Bends("Small", inches(48))) == []


def test_without_a_stated_yield_only_what_is_allowed_for_bounds_it():
    bare = replace(RAIL, yield_mpa=None)
    made = Decimal(repr(round(ways(inches("92.8"), Bends("Small", inches(48)))[0].hoop.span, 6)))
    sticks = [Stick(bare, feet("10.5"), Decimal(20))]
    found = ways(made - inches(1), Bends("Small", inches(48)), sticks=sticks)
    assert [(way.limit, way.inward) for way in found] == [(None, inches(1))]
    assert ways(made - most_spring_in(made) - 1, Bends("Small", inches(48)), sticks=sticks) == []


def test_tubes_without_a_swage_are_not_joined_and_a_bender_bends_what_it_fits():
    conduit = Stick(CONDUIT, feet(10), Decimal(9))
    radius = feet(10) / Decimal(repr(math.pi))
    span = 2 * radius - inches("0.01")
    assert [way.sticks for way in ways(span, Bends("Pipe", radius), sticks=[conduit])] == [1]
    assert ways(span, Bends("Pipe", radius, frozenset({"rail"})), sticks=[conduit]) == []
    assert ways(feet(12), Bends("Own", feet(6)), sticks=[conduit]) == []


def test_tighter_than_ten_diameters_it_kinks():
    """10 x 1.375 = 13.75 in."""
    short = [Stick(RAIL, inches("44"), Decimal(8))]
    assert ways(inches("27.5"), Bends("Tight", inches("13.75")), sticks=short)
    assert not ways(inches("27.4"), Bends("Tight", inches("13.74")), sticks=short)


def test_a_height_asked_for_takes_more_legs_and_no_more_than_a_quarter_of_the_span():
    low = ways(feet(12), Bends("Own", feet(6)), least_rise=inches("82.9"))
    assert [way.sticks for way in low] == [2]
    assert ways(feet(12), Bends("Own", feet(6)), least_rise=inches(83)) == []
    # A leg of a quarter of the span and no more: 226.1947 + 2 x 36 in of pipe for 144 in.
    half_circle = feet(6) * Decimal(repr(math.pi))
    for more, found in ((Decimal("-0.01"), 1), (Decimal("0.01"), 0)):
        long = [Stick(RAIL, half_circle + 2 * MOST_LEG * feet(12) + more, Decimal(50))]
        assert len(ways(feet(12), Bends("Own", feet(6)), sticks=long)) == found


def test_the_cheapest_is_first_and_what_nobody_offers_last():
    sticks = [
        Stick(RAIL, feet(21), None),
        Stick(RAIL, feet("10.5"), Decimal(20)),
        Stick(replace(RAIL, code="thick"), feet("10.5"), Decimal("19.50")),
    ]
    found = ways(feet(12), Bends("Own", feet(6)), sticks=sticks)
    assert [(way.tube, way.price) for way in found] == [
        ("thick", Decimal(39)),
        ("rail", Decimal(40)),
        ("rail", None),
    ]
    assert found == ways(feet(12), Bends("Own", feet(6)), sticks=list(reversed(sticks)))


def test_the_radius_that_would_do_with_the_least_to_pay():
    """One stick of 18 ft, 216 in, over 144 in is less than a half circle (226.19): the arc of half angle a with
    sin(a) / a = 2 / 3 has a = 1.49578 rad, a radius of 216 / (2 a) = 72.2031 in and a rise of 66.79 in."""
    sticks = [Stick(RAIL, feet("10.5"), Decimal(20)), Stick(RAIL, feet(18), Decimal(33)), Stick(RAIL, feet(21), None)]
    way = on_any_radius(feet(12), sticks, insertion=SLIDE)
    assert (way.sticks, way.length, way.price, way.inward) == (1, feet(18), Decimal(33), 0)
    assert way.hoop.radius == pytest.approx(float(inches("72.2031")), rel=1e-5)
    assert float(way.rise) == pytest.approx(float(inches("66.7918")), rel=1e-5)
    taller = on_any_radius(feet(12), sticks, insertion=SLIDE, least_rise=feet(6))
    assert (taller.sticks, taller.price, taller.hoop.radius) == (2, Decimal(40), float(feet(6)))
    assert on_any_radius(feet(40), sticks[:1], insertion=SLIDE, least_rise=feet(30)) is None
