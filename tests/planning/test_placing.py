"""The free way between rectangles, against Shapely and against figures worked out by hand."""

from __future__ import annotations

from itertools import combinations
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from farmbuild.planning.placing import MAX_PLACED, Rectangle, free_between, neighbours, neighbours_among
from tests.size import LONG, examples

offsets = st.integers(0, 40_000).map(float)
turns = st.one_of(st.sampled_from([0, 45, 90, 135, 180, 270, 300]), st.integers(0, 359)).map(float)
rectangles = st.builds(
    Rectangle, offsets, offsets, st.integers(500, 20_000).map(float), st.integers(500, 8_000).map(float), turns
)


@given(rectangles, rectangles)
def test_the_free_way_is_that_of_an_outside_library(one: Rectangle, other: Rectangle) -> None:
    a, b = Polygon(one.corners), Polygon(other.corners)
    gap = free_between(one, other)
    over = a.intersection(b).area
    if gap is None:
        assert over > 0
        return
    assert over == pytest.approx(0, abs=1)
    assert gap.distance == pytest.approx(a.distance(b), abs=1e-5)
    for start, end in (gap.first, gap.last, gap.middle):
        assert hypot(end[0] - start[0], end[1] - start[1]) == pytest.approx(gap.distance, abs=1e-2)
        reach = {one: min(a.exterior.distance(Point(p)) for p in (start, end))}
        assert reach[one] == pytest.approx(0, abs=1e-2)
        assert min(b.exterior.distance(Point(p)) for p in (start, end)) == pytest.approx(0, abs=1e-2)
    assert free_between(other, one).distance == pytest.approx(gap.distance, abs=1e-6)


def test_corners_go_round_from_the_first_and_turns_are_clockwise() -> None:
    assert Rectangle(1, 2, 10, 4, 0).corners == ((1, 2), (11, 2), (11, 6), (1, 6))
    # A quarter turn clockwise: the length runs down, the breadth to the right.
    assert Rectangle(0, 20, 10, 4, 90).corners == ((0, 20), (0, 10), (4, 10), (4, 20))
    assert Rectangle(9, 0, 10, 4, 270).corners == ((9, 0), (9, 10), (5, 10), (5, 0))
    turned = Rectangle(0, 0, 10, 4, 315)
    assert turned.corners[1] == pytest.approx((10 / sqrt(2), 10 / sqrt(2)))


def test_rectangles_that_touch_do_not_lie_over_each_other() -> None:
    one = Rectangle(0, 0, 10, 4)
    assert free_between(one, Rectangle(0, 4, 10, 4)).distance == 0
    assert free_between(one, Rectangle(10, 4, 10, 4)).distance == 0
    assert free_between(one, Rectangle(0, 3.9, 10, 4)) is None
    # A cross: no corner of either lies in the other.
    assert free_between(Rectangle(0, 3, 10, 2), Rectangle(6, 0, 8, 2, 270)) is None


def test_facing_sides_are_measured_anywhere_along_where_they_face() -> None:
    gap = free_between(Rectangle(0, 0, 10, 4), Rectangle(6, 7, 10, 4))
    assert gap.distance == 3
    assert gap.facing == pytest.approx(4)
    assert gap.middle == ((pytest.approx(8), pytest.approx(4)), (pytest.approx(8), pytest.approx(7)))
    corner_to_corner = free_between(Rectangle(0, 0, 10, 4), Rectangle(13, 8, 10, 4))
    assert (corner_to_corner.distance, corner_to_corner.facing) == (5, 0)


def test_neighbours_face_each_other_with_nothing_between() -> None:
    rows = [Rectangle(0, y, 48, 12) for y in (0, 20, 40)]
    found = {(pair.one, pair.other): pair.distance for pair in neighbours_among(rows, near=3)}
    assert found == {(0, 1): 8, (1, 2): 8}
    # Far along the same line, the one that stands alone is measured to its nearest.
    alone = [*rows, Rectangle(100, 60, 48, 12)]
    assert (2, 3) in {(pair.one, pair.other) for pair in neighbours_among(alone, near=3)}


def test_all_that_are_too_near_are_named_whatever_stands_between() -> None:
    rows = [Rectangle(0, 0, 48, 12), Rectangle(0, 12.5, 48, 1), Rectangle(0, 14, 48, 12)]
    found = {(pair.one, pair.other): pair.too_near(3) for pair in neighbours_among(rows, near=3)}
    assert found == {(0, 1): True, (1, 2): True, (0, 2): True}
    over = [Rectangle(0, 0, 48, 12), Rectangle(10, 5, 48, 12, 30)]
    [pair] = neighbours_among(over, near=3)
    assert pair.gap is None
    assert pair.too_near(0)


def test_as_far_as_the_walkway_is_near_enough() -> None:
    for turn in (0, 37, 90, 211):
        one = Rectangle(0, 0, 40_000, 4000, turn)
        vx, vy = one.ways[1]
        other = Rectangle(vx * 4914.4, vy * 4914.4, 40_000, 4000, turn)
        [pair] = neighbours_among([one, other], near=914.4)
        assert not pair.too_near(914.4)
        assert pair.too_near(914.5)


@pytest.mark.parametrize("most", [10, *([MAX_PLACED] if LONG else [])])
def test_no_more_are_looked_at_than_is_said(monkeypatch: pytest.MonkeyPatch, most: int) -> None:
    monkeypatch.setattr(neighbours, "MAX_PLACED", most)
    rows = [Rectangle(0, 10.0 * y, 40, 5) for y in range(most + 5)]
    assert max(pair.other for pair in neighbours_among(rows, near=1)) == most - 1


def test_the_way_between_is_clear_of_every_other_house() -> None:
    rows = [Rectangle(30.0 * x, 20.0 * y, 25, 12, 10) for x in range(3) for y in range(3)]
    shapes = [Polygon(each.corners) for each in rows]
    pairs = neighbours_among(rows, near=1)
    assert len(pairs) >= 12
    for pair in pairs:
        way = LineString(pair.gap.middle)
        assert not any(way.crosses(s) for at, s in enumerate(shapes) if at not in (pair.one, pair.other))


@examples(40)
@given(st.lists(rectangles, min_size=2, max_size=5), st.sampled_from([1.0, 900.0, 6000.0]))
def test_neighbours_are_those_that_face_or_stand_nearest_with_nothing_between(placed, near) -> None:
    """Each pair looked at by Shapely; those are left out of which the last digits decide."""
    shapes = [Polygon(each.corners) for each in placed]
    found = {(pair.one, pair.other): pair for pair in neighbours_among(placed, near=near)}
    gaps = {(a, b): free_between(placed[a], placed[b]) for a, b in combinations(range(len(placed)), 2)}
    away = {pair: gap.distance if gap else 0.0 for pair, gap in gaps.items()}
    for (a, b), gap in gaps.items():
        close = gap is None or away[a, b] < near
        assert (a, b) in found or not close or away[a, b] > near - 0.02
        if gap is None or abs(away[a, b] - near) < 1:
            continue
        if not close:
            nearest = any(away[a, b] <= min(away[pair] for pair in away if each in pair) for each in (a, b))
            way = LineString(gap.middle)
            others = [shapes[at] for at in range(len(placed)) if at not in (a, b)]
            clear = min((way.distance(other) for other in others), default=9.0)
            over = max((way.intersection(other).length for other in others), default=0.0)
            if clear < 2 > over or 0 < gap.facing < 1:
                continue
            assert ((a, b) in found) == ((gap.facing >= 1 or nearest) and clear > 0)
        if (a, b) in found:
            assert found[a, b].distance == away[a, b]
            assert found[a, b].too_near(near) == close
