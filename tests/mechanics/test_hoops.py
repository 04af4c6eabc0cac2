"""Hoop geometry against handbook tables, numerical integration and what the trade makes."""

import itertools
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from farmbuild.mechanics import (
    GeometryError,
    Hoop,
    bent_hoop,
    developed_length,
    hoop_over,
    joints,
    sticks_for_span,
)
from farmbuild.mechanics.hoops import half_angle_for_span

INCH = Decimal("25.4")
FOOT = Decimal("304.8")


def test_segment_of_a_circle_table():
    """Central angle 90 degrees, radius 1: arc 1.5708, rise 0.2929, chord 1.4142 (machinist's handbook)."""
    hoop = bent_hoop(1.5708, 1)
    assert math.degrees(2 * hoop.half_angle) == pytest.approx(90, abs=1e-3)
    assert hoop.rise == pytest.approx(0.2929, abs=5e-5)
    assert hoop.span == pytest.approx(1.4142, abs=5e-5)


@pytest.mark.parametrize(
    ("sticks", "insertion", "house_ft"),
    [(2, 4, 12), (3, 4, 20), (1, 0, 6)],
    ids=["two rails", "three rails", "conduit"],
)
def test_what_the_trade_makes_of_ten_foot_sticks(sticks, insertion, house_ft):
    """Two sticks make a 12 ft hoop, three a 20 ft one, one conduit stick a 6 ft one (common practice, no source).

    The trade's hoop is near a half circle: a half circle of the same pipe spans the house to within a tenth.
    """
    developed = developed_length(sticks, FOOT * 10, INCH * insertion)
    half_circle = bent_hoop(float(developed), float(developed) / math.pi)
    assert half_circle.leg == pytest.approx(0, abs=1e-6)
    assert half_circle.span == pytest.approx(float(FOOT * house_ft), rel=0.10)


@given(st.floats(500, 30_000), st.floats(200, 10_000))
def test_the_drawn_line_is_as_long_as_the_pipe(developed, radius):
    hoop = bent_hoop(developed, radius)
    turn = 2 * hoop.half_angle
    arc, _ = quad(lambda angle: hoop.radius, -turn / 2, turn / 2)
    assert arc + 2 * hoop.leg == pytest.approx(developed, rel=1e-9)
    points = hoop.outline(2000)
    drawn = sum(math.dist(a, b) for a, b in itertools.pairwise(points))
    assert drawn == pytest.approx(developed, rel=2e-3)
    assert points[0][0] == pytest.approx(-hoop.span / 2, abs=1e-6 * developed)
    assert points[-1][1] == pytest.approx(0, abs=1e-6 * developed)
    assert max(y for _, y in points) == pytest.approx(hoop.rise, rel=1e-9)


@given(st.floats(1000, 20_000), st.floats(0.65, 0.999))
def test_radius_for_a_span_against_brentq(developed, ratio):
    half = brentq(lambda a: math.sin(a) / a - ratio, 1e-6, math.pi)
    assert hoop_over(developed, developed * ratio).radius == pytest.approx(developed / (2 * half), rel=1e-6)


@given(st.floats(1000, 20_000), st.floats(0.05, 0.995))
def test_a_hoop_over_a_span_stands_on_it(developed, ratio):
    hoop = hoop_over(developed, developed * ratio)
    assert hoop.span == pytest.approx(developed * ratio, rel=1e-7)
    assert 2 * hoop.radius * hoop.half_angle + 2 * hoop.leg == pytest.approx(developed, rel=1e-7)


@pytest.mark.parametrize(("span_ft", "counts"), [(6, [1]), (12, [2]), (20, [3, 4]), (200, [])])
def test_sticks_for_a_span_from_the_fewest_that_reach_to_the_first_with_legs(span_ft, counts):
    """Ten-foot sticks with 4 in of insertion; one reaches 6 ft, two 12 ft and three 20 ft, as the trade has it."""
    choices = sticks_for_span(float(FOOT * span_ft), FOOT * 10, INCH * 4)
    assert [choice.sticks for choice in choices] == counts
    assert all(choice.hoop.span == pytest.approx(float(FOOT * span_ft)) for choice in choices)
    assert all(choice.hoop.leg == 0 for choice in choices[:-1])


def test_a_pipe_as_long_as_the_span_does_not_stand_over_it():
    """Over exactly 10 ft one stick of 10 ft lies flat; two make a hoop with legs. Of 20 ft two sticks reach no more
    than 19 ft 8 in."""
    ten = float(FOOT * 10)
    assert [choice.sticks for choice in sticks_for_span(ten, FOOT * 10, INCH * 4)] == [2]
    assert [choice.sticks for choice in sticks_for_span(ten - 1e-6, FOOT * 10, INCH * 4)] == [1, 2]
    for most, counts in ((2, []), (3, [3]), (4, [3, 4]), (9, [3, 4])):
        choices = sticks_for_span(2 * ten, FOOT * 10, INCH * 4, most=most)
        assert [choice.sticks for choice in choices] == counts
    # Twelve at most unless more are allowed: 12 x 10 ft less 11 x 4 in are 116 ft 4 in.
    assert len(sticks_for_span(float(FOOT * 116), FOOT * 10, INCH * 4)) == 1
    assert sticks_for_span(float(FOOT * 117), FOOT * 10, INCH * 4) == []


def test_the_height_follows_the_circle():
    hoop = bent_hoop(math.pi * 1000, 1000)
    assert hoop.height_at(0) == pytest.approx(1000)
    assert hoop.height_at(600) == pytest.approx(800)  # 3-4-5 triangle
    assert hoop.height_at(-600) == pytest.approx(800)
    assert hoop.height_at(1001) == hoop.height_at(-1001) == 0


def test_the_height_stands_on_the_legs():
    """500 mm more pipe at each end: the same circle, 500 mm higher, up to the very end of the span."""
    hoop = bent_hoop(math.pi * 1000 + 1000, 1000)
    assert (hoop.span, hoop.leg, hoop.rise) == pytest.approx((2000, 500, 1500))
    assert hoop.height_at(600) == pytest.approx(1300)
    assert hoop.height_at(hoop.span / 2) == pytest.approx(500)
    assert hoop.point_at(200) == pytest.approx((-1000, 200, math.pi / 2))
    assert hoop.point_at(500) == pytest.approx((-1000, 500, math.pi / 2))
    assert hoop.point_at(hoop.developed - 200) == pytest.approx((1000, 200, -math.pi / 2))
    assert hoop.point_at(hoop.developed / 2) == pytest.approx((0, 1500, 0))
    # An eighth of a turn before and after the crown the pipe rises and falls at 45 degrees.
    eighth = math.pi * 1000 / 4
    for side in (-1, 1):
        across, up = side * 1000 * math.sqrt(0.5), 500 + 1000 * math.sqrt(0.5)
        assert hoop.point_at(hoop.developed / 2 + side * eighth) == pytest.approx((across, up, -side * math.pi / 4))


def test_a_pipe_is_bent_to_a_half_circle_and_no_further():
    assert bent_hoop(math.pi * 1000, 1000) == Hoop(math.pi * 1000, 1000, math.pi / 2, 0.0)
    assert bent_hoop(3000, 1000).half_angle == pytest.approx(1.5)
    assert bent_hoop(4000, 1000).half_angle == math.pi / 2
    # Over less than 2 / pi of its length a pipe has legs to spare, and the radius is half the span.
    assert hoop_over(4000, 2000) == bent_hoop(4000, 1000)


def test_joints_stand_in_the_middle_of_the_overlap():
    assert joints(3, FOOT * 10, INCH * 4) == [INCH * 118, INCH * 234]


@pytest.mark.parametrize(
    ("call", "part"),
    [
        (lambda: developed_length(0, FOOT, INCH), "sticks"),
        (lambda: developed_length(2, Decimal(0), Decimal(0)), "stick_length"),
        (lambda: developed_length(2, FOOT, FOOT), "insertion"),
        (lambda: developed_length(2, FOOT, -INCH), "insertion"),
        (lambda: bent_hoop(3000, 0), "radius"),
        (lambda: bent_hoop(0, 1000), "stick_length"),
        (lambda: hoop_over(3000, 3000), "span"),
        (lambda: hoop_over(3000, 0), "span"),
        (lambda: half_angle_for_span(3000, 3000), "span"),
        (lambda: half_angle_for_span(3000, math.nan), "span"),
    ],
)
def test_what_cannot_be_is_refused(call, part):
    with pytest.raises(GeometryError) as refused:
        call()
    assert refused.value.part == part
