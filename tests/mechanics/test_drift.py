"""The trend of a bender's radius against scipy, and the radius of an arc against points on it."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import median_abs_deviation, theilslopes

from farmbuild.mechanics.drift import (
    LEAST_HOOPS,
    LEAST_SPREAD,
    MOST_HOOPS,
    Reading,
    median_slope,
    pipe_of,
    radius_of,
    trend_of,
)

places = st.integers(0, 20_000).map(float)
radii = st.floats(800, 6000, allow_nan=False)


@given(st.lists(st.tuples(places, radii), min_size=2, max_size=40, unique_by=lambda pair: pair[0]))
def test_the_slope_is_that_of_scipy(pairs: list[tuple[float, float]]) -> None:
    at, radius = zip(*pairs, strict=True)
    theirs = theilslopes(radius, at)
    ours = median_slope([Reading(*pair) for pair in pairs])
    assert ours == pytest.approx(theirs.slope, rel=1e-9, abs=1e-9)


@given(st.lists(st.tuples(places, radii), min_size=LEAST_HOOPS, max_size=30, unique_by=lambda pair: pair[0]))
def test_change_and_spread_are_those_of_the_line_of_scipy(pairs: list[tuple[float, float]]) -> None:
    pairs.sort()
    trend = trend_of([Reading(*pair) for pair in pairs])
    at, radius = zip(*pairs, strict=True)
    slope = theilslopes(radius, at).slope
    assert trend is not None
    assert trend.change == pytest.approx(slope * (at[-1] - at[0]), rel=1e-9, abs=1e-6)
    left = [y - slope * x for x, y in pairs]
    spread = 2 * median_abs_deviation(left, scale="normal")
    # scipy rounds the factor of normal errors later than we do.
    assert trend.spread == pytest.approx(max(LEAST_SPREAD, spread), rel=1e-4, abs=1e-6)


@given(st.lists(st.tuples(places, radii, st.sampled_from("abc")), min_size=2, max_size=25))
def test_only_hoops_that_are_alike_are_compared(rows: list[tuple[float, float, str]]) -> None:
    pairs = [(a, b) for a, b in combinations(rows, 2) if a[2] == b[2] and a[0] != b[0]]
    slopes = sorted((b[1] - a[1]) / (b[0] - a[0]) for a, b in pairs)
    found = median_slope([Reading(*row) for row in rows])
    if not slopes:
        assert found is None
    else:
        middle = len(slopes) // 2
        wanted = slopes[middle] if len(slopes) % 2 else (slopes[middle - 1] + slopes[middle]) / 2
        assert found == pytest.approx(wanted)


def test_another_tube_or_recipe_is_no_drift() -> None:
    """Two kinds of hoop, 60 mm apart, of which one is bent early and the other late: nothing changes."""
    early = [Reading(at, 1830 + wobble, "a") for at, wobble in ((0, 1), (100, -1), (200, 0), (300, 1))]
    late = [Reading(at, 1890 + wobble, "b") for at, wobble in ((2000, 0), (2100, 1), (2200, -1), (2300, 0))]
    trend = trend_of([*early, *late])
    assert trend is not None
    assert abs(trend.slope) < 0.011
    assert not trend.exceeds(30)
    # Were they compared, it would be said to drift.
    mixed = trend_of([Reading(row.at, row.radius) for row in [*early, *late]])
    assert mixed is not None
    assert mixed.exceeds(30)


def test_one_wild_hoop_makes_no_drift_and_hides_none() -> None:
    still = [Reading(at, 1830 + at % 3, "a") for at in range(0, 2000, 200)]
    wild = [*still[:-1], Reading(1800, 1990, "a")]
    drifting = [Reading(at, 1830 + 0.02 * at, "a") for at in range(0, 2000, 200)]
    assert not trend_of(still).exceeds(25)
    assert not trend_of(wild).exceeds(25)
    assert trend_of(drifting).exceeds(25)
    assert trend_of(drifting).change == pytest.approx(36)
    assert trend_of([*drifting[:4], Reading(700, 1600, "a"), *drifting[4:]]).exceeds(25)
    assert not trend_of(drifting).exceeds(36.1)


def test_a_change_within_the_spread_is_none() -> None:
    """30 mm over all of it, where hoops stand up to 60 mm off the line, is not said though the limit is 25."""
    rows = [Reading(at, 1830 + 0.015 * at + (0, 60, -60)[at // 200 % 3], "a") for at in range(0, 2200, 200)]
    trend = trend_of(rows)
    assert trend is not None
    assert 25 < abs(trend.change) < trend.spread
    assert not trend.exceeds(25)


def test_few_hoops_tell_nothing() -> None:
    assert trend_of([]) is None
    assert trend_of([Reading(0, 1800), Reading(500, 1900), Reading(900, 2000)]) is None
    assert trend_of([Reading(0, 1800, n) for n in range(9)]) is None


@given(st.floats(300, 6000), st.floats(0.05, math.pi / 2))
def test_the_radius_of_an_arc_and_the_pipe_along_it(radius: float, half: float) -> None:
    span, rise = 2 * radius * math.sin(half), radius * (1 - math.cos(half))
    assert radius_of(span, rise) == pytest.approx(radius, rel=1e-6)
    along, _ = quad(lambda turn: radius, -half, half)
    assert pipe_of(span, rise) == pytest.approx(along, rel=1e-6)


@given(st.floats(300, 6000), st.floats(0, 3000))
def test_straight_legs_leave_the_radius(radius: float, leg: float) -> None:
    assert radius_of(2 * radius, radius + leg) == radius
    assert pipe_of(2 * radius, radius + leg) == pytest.approx(math.pi * radius + 2 * leg)


@pytest.mark.parametrize(("span", "rise"), [(0, 100), (100, 0), (-1, 5)])
def test_no_hoop_has_no_radius(span: float, rise: float) -> None:
    with pytest.raises(ValueError, match="more than zero"):
        radius_of(span, rise)


def test_of_many_hoops_the_latest_count_and_a_bender_may_bend_tighter():
    """A mm a pull, on the trend: 149 between the first and the last of 150."""
    trend = trend_of([Reading(n, 2000 - n) for n in range(MOST_HOOPS + 10)])
    assert (trend.start, trend.end, len(trend.readings)) == (10, MOST_HOOPS + 9, MOST_HOOPS)
    assert (trend.change, trend.spread) == (1 - MOST_HOOPS, LEAST_SPREAD)
    assert trend.exceeds(MOST_HOOPS - 2) and not trend.exceeds(MOST_HOOPS - 1)
