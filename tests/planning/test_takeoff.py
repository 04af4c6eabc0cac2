"""The take-off against arithmetic done by hand, common practice, and exhaustive search."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.context import HouseContext, house_context
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts.boards import split_boards
from farmbuild.planning.house.parts.ends import walls
from farmbuild.planning.house.parts.purlins import joined_sticks, places
from farmbuild.planning.house.shape import free_span, house_shape, recipe_length
from farmbuild.planning.house.spec import House, HouseSpec, Recipe
from farmbuild.planning.house.takeoff import take_off, totals_by_material
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.work.counting import USES, count_work
from tests.planning.seasons import (
    BY_CODE,
    LOW,
    LOW_RECIPE,
    TWELVE,
    TWELVE_RECIPE,
    TWENTY,
    TWENTY_RECIPE,
    feet,
    house,
    inches,
)


def rows_of(spec: HouseSpec, purpose: str, units: UnitSystem = UnitSystem.IMPERIAL) -> list[TakeoffRow]:
    return [row for row in take_off(house("h", spec), BY_CODE, units) if row.purpose == purpose]


def built(spec: HouseSpec) -> HouseContext:
    return house_context(spec, BY_CODE, UnitSystem.IMPERIAL)


def sizes(rows: list[TakeoffRow]) -> list[tuple[Decimal | None, int]]:
    return [(row.length, row.quantity) for row in rows]


def in_inches(rows: list[TakeoffRow]) -> list[tuple[float, int]]:
    return [(float((row.length or 0) / inches(1)), row.quantity) for row in rows]


class TestTwelveByFortyEight:
    """A 12 ft x 48 ft house worked by hand; the sums stand beside each figure."""

    def test_hoops(self) -> None:
        # 48 / 4 = 12 bays, 13 hoops, 2 sticks each: 26.
        (row,) = rows_of(TWELVE, "hoops")
        assert (row.length, row.quantity, row.unit, row.whole) == (feet(10), 26, "sticks", True)
        assert "13 x 2 = 26" in row.working

    def test_ground_posts(self) -> None:
        # 2 x 13 = 26 of 4 ft.
        (row,) = rows_of(TWELVE, "ground posts")
        assert (row.length, row.quantity, row.whole) == (feet(4), 26, False)

    def test_purlins(self) -> None:
        # n x 120 - (n - 1) x 6 >= 576: 5 x 120 - 4 x 6 = 576 exactly, so 5 sticks and nothing sawn off.
        (ridge,) = rows_of(TWELVE, "ridge purlins")
        (side,) = rows_of(TWELVE, "side purlins")
        assert (ridge.quantity, ridge.trim, ridge.trims) == (5, 0, 0)
        assert (side.quantity, side.trim, side.trims) == (10, 0, 0)

    def test_purlin_trim(self) -> None:
        # 50 ft = 600 in: 6 x 120 - 5 x 6 = 690, 90 in too long, on each of 2 runs.
        (side,) = rows_of(replace(TWELVE, length=feet(50), spacing_wanted=feet(5)), "side purlins")
        assert (side.quantity, side.trim, side.trims) == (12, inches(90), 2)

    def test_boards(self) -> None:
        # A 16 ft board spans 4 bays of 4 ft: 12 bays are 3 boards; 2 sides: 6.
        assert sizes(rows_of(TWELVE, "hip boards")) == [(feet(16), 6)]
        assert sizes(rows_of(TWELVE, "base boards")) == [(feet(16), 6)]

    def test_arc(self) -> None:
        # D = 240 - 6 = 234 in. Over 144 in: 234 > 72 pi = 226.19, so a half circle of 72 in on legs of
        # (234 - 226.1947) / 2 = 3.9027 in; ridge 24 + 3.9027 + 72 = 99.9027 in above the ground.
        shape = house_shape(TWELVE)
        assert shape.developed == inches(234)
        assert float(shape.arc.leg) == pytest.approx(3.9027 * 25.4, abs=0.01)
        assert float(shape.ridge_height) == pytest.approx(99.9027 * 25.4, abs=0.01)

    def test_front_wall(self) -> None:
        # Opening 48 in. Sills 72 - 0.83 of half a post - 24 - 1.5 = 45.67, 2.
        # Studs every 24 in: 0 over the door, +-24 taken by the door posts,
        # +-48: sqrt(72^2 - 48^2) = 53.6656, + 3.9027 + 24 - 1.5 sill = 80.0683, 2.
        # Door posts at 24.75: sqrt(72^2 - 24.75^2) = 67.6124, + 27.9027 = 95.5151, 2.
        # Header 48, 1. Short stud 99.9027 - 78 - 1.5 = 20.4027, 1.
        assert in_inches(rows_of(TWELVE, "front end wall")) == [
            (45.67, 2),
            (pytest.approx(80.0683, abs=0.0001), 2),
            (pytest.approx(95.5151, abs=0.0001), 2),
            (48, 1),
            (pytest.approx(20.4027, abs=0.0001), 1),
        ]

    def test_front_door(self) -> None:
        # 1/4 in at each edge: 2 uprights of 78 - 1/2 in; 3 rails of 48 - 1/2 - 2 x 3.5 = 40 1/2 in.
        assert sizes(rows_of(TWELVE, "front doors")) == [(inches("77.5"), 2), (inches("40.5"), 3)]

    def test_back_wall(self) -> None:
        # No door. Sill 144 - 2 x 0.83 = 142.34, in one piece.
        # Studs: 0: 99.9027 - 1.5 = 98.4027; +-24: sqrt(72^2 - 24^2) = 67.8823,
        # + 27.9027 - 1.5 = 94.2850; +-48: 80.0683.
        assert in_inches(rows_of(TWELVE, "back end wall")) == [
            (142.34, 1),
            (pytest.approx(98.4027, abs=0.0001), 1),
            (pytest.approx(94.2850, abs=0.0001), 2),
            (pytest.approx(80.0683, abs=0.0001), 2),
        ]

    def test_cover(self) -> None:
        # 48 + 2 x 2 = 52 ft; the width needed, 19.5 + 4 = 23.5 ft, is said. End walls are 12 + 2 x 2 = 16 ft wide, half
        # of the 32 ft roll, and 99.9027 in high: one length of that, split, is 2 sheets of 16 ft.
        (sheet,) = rows_of(TWELVE, "film over the house")
        assert (sheet.length, sheet.quantity) == (feet(52), 1)
        assert "23' 6\"" in sheet.working
        ((height, sheets),) = sizes(rows_of(TWELVE, "film on the end walls"))
        assert (float(height), sheets) == (pytest.approx(99.9027 * 25.4, abs=0.01), 1)
        assert sizes(rows_of(TWELVE, "channel along the house")) == [(feet(48), 4)]
        assert sizes(rows_of(TWELVE, "channel over the end hoops")) == [(inches(234), 2)]

    def test_fixings(self) -> None:
        # Joints: 13 in hoops + 3 x 4 in purlins = 25, x 2 = 50. Crossings: 4 rows x 13 = 52.
        assert sizes(rows_of(TWELVE, "joint screws")) == [(None, 50)]
        assert sizes(rows_of(TWELVE, "board bolts")) == [(None, 52)]
        assert sizes(rows_of(TWELVE, "anchors")) == [(None, 8)]
        assert sizes(rows_of(TWELVE, "corner braces")) == [(feet(8), 4)]

    def test_totals(self) -> None:
        totals = {
            (t.material, t.length): t
            for t in totals_by_material(take_off(house("h", TWELVE), BY_CODE, UnitSystem.IMPERIAL))
        }
        # Rail: 26 + 5 + 10 = 41 sticks, 410 ft.
        rail = totals["rail-1-3-8", feet(10)]
        assert (rail.quantity, rail.total_length) == (41, feet(410))
        assert totals["lumber-2x6", feet(16)].quantity == 6


@pytest.mark.parametrize(
    ("recipe", "span_ft", "sticks"),
    [(LOW_RECIPE, 6, 1), (TWELVE_RECIPE, 12, 2), (TWENTY_RECIPE, 20, 3)],
)
def test_common_practice_of_sticks_and_spans(recipe: Recipe, span_ft: int, sticks: int) -> None:
    """1 conduit stick makes 6 ft, 2 rails 12 ft, 3 rails 20 ft (common practice, no source): a half circle of that
    span takes no more pipe than the sticks give, and one stick fewer would not reach."""
    half_circle = math.pi * span_ft * 304.8 / 2
    developed = float(recipe_length(recipe))
    assert recipe.sticks == sticks
    fewer = developed - float(recipe.stick_length - recipe.insertion)
    assert fewer <= span_ft * 304.8
    assert developed >= 0.9 * half_circle
    assert 0 <= float(free_span(recipe)) / 304.8 - span_ft <= 4


def test_without_ground_posts_the_hoop_stands_on_the_ground() -> None:
    """What is left in the fields of posts that a house does not have counts for nothing."""
    with_posts, without = house_shape(TWELVE), house_shape(replace(TWELVE, post_material=""))
    assert (with_posts.post_above, with_posts.post_depth) == (feet(2), feet(2))
    assert (without.post_above, without.post_depth) == (0, 0)
    assert without.ridge_height == without.rise == with_posts.ridge_height - feet(2)
    assert without.height_at(Decimal(0)) == without.rise
    assert without.spring_in == without.free_span - feet(12)


def test_purlins_stand_at_equal_steps_along_the_pipe() -> None:
    """Four over both sides of 19' 6" of pipe: a third and two thirds of the way from each end to the ridge."""
    house = built(replace(TWELVE, side_purlins=4))
    shape = house.shape
    assert [place.name for place in places(house)] == ["ridge", "side", "side", "side", "side"]
    for place, share in zip(places(house), (1 / 2, 1 / 6, 5 / 6, 1 / 3, 2 / 3), strict=True):
        x, height, _ = shape.arc.point_at(float(shape.developed) * share)
        assert float(place.x) == pytest.approx(x, abs=1e-5)
        assert float(place.height) == pytest.approx(height + float(feet(2)), abs=1e-5)
    assert places(built(replace(TWELVE, ridge_purlins=0, side_purlins=0))) == ()
    assert places(built(replace(TWELVE, purlin_material=""))) == ()
    assert [p.name for p in places(built(replace(TWELVE, ridge_purlins=0)))] == ["side", "side"]


def test_low_tunnel_has_no_more_than_it_needs() -> None:
    rows = take_off(house("h", LOW), BY_CODE, UnitSystem.IMPERIAL)
    assert [(row.purpose, row.quantity) for row in rows] == [("hoops", 11), ("film over the house", 1)]


@pytest.mark.parametrize(
    ("front", "back", "framed", "latches"), [(2, 1, 2, 3), (2, 0, 2, 2), (2, 0, 1, 2), (0, 0, 2, 0)]
)
def test_a_latch_for_each_door(front: int, back: int, framed: int, latches: int) -> None:
    spec = replace(TWENTY, door_latch_material="latch", front_door_count=front, back_door_count=back, end_walls=framed)
    rows = rows_of(spec, "door latches")
    assert sum(row.quantity for row in rows) == latches
    assert all((row.material, row.length, row.unit) == ("latch", None, "each") for row in rows)
    # End walls are counted by their frames: a latch is no piece of one, but has to be there.
    assert count_work(house("h", spec), BY_CODE, UnitSystem.IMPERIAL) == count_work(
        house("h", replace(spec, door_latch_material="")), BY_CODE, UnitSystem.IMPERIAL
    )
    assert "door latches" in USES[WorkKind.ENDS]


def test_double_doors_and_a_long_sill() -> None:
    (front, back) = walls(built(TWENTY))
    # 2 doors of 42 in: opening 84 in; sills 120 - 0.83 - 42 - 1.5 = 75.67 in.
    assert (front.opening, front.header) == (inches(84), inches(84))
    assert front.sills == (inches("75.67"), inches("75.67"))
    plain = replace(TWENTY, back_door_count=0)
    # 20 ft without a door is longer than 12 ft: 2 pieces of (240 - 1.66) / 2 = 119.17 in.
    assert walls(built(plain))[1].sills == (inches("119.17"), inches("119.17"))
    assert len(back.door_posts) == 2


def test_a_sill_stands_between_what_stands_at_the_feet() -> None:
    """Without posts between the hoops of 1 3/8 in; centre to centre where nobody knows the width."""
    plain = replace(TWELVE, front_door_count=0)
    assert walls(built(replace(plain, post_material="")))[0].sills == (inches(144) - inches("1.375"),)
    unknown = BY_CODE | {"rail-1-5-8": replace(BY_CODE["rail-1-5-8"], width=None)}
    assert walls(house_context(plain, unknown, UnitSystem.IMPERIAL))[0].sills == (inches(144),)
    (sill, *_) = [row for row in take_off(house("h", plain), unknown, UnitSystem.IMPERIAL) if "sill" in row.working]
    assert "no width" in sill.working


@pytest.mark.parametrize(("gap", "height", "rail"), [("0", "78", "41"), ("0.5", "77", "40")])
def test_a_door_is_smaller_than_its_opening_by_the_clearance_at_each_edge(gap: str, height: str, rail: str) -> None:
    rows = rows_of(replace(TWELVE, door_clearance=inches(gap)), "front doors")
    assert sizes(rows) == [(inches(height), 2), (inches(rail), 3)]
    # The opening stays: header and door posts do not change.
    assert rows_of(replace(TWELVE, door_clearance=inches(gap)), "front end wall") == rows_of(TWELVE, "front end wall")


@pytest.mark.parametrize(
    ("length", "spacing", "hoops"), [(48, 4, 13), (49, 4, 14), (48, 5, 11), (10, 10, 2), (30, 4, 9)]
)
def test_hoops_are_spaced_evenly(length: int, spacing: int, hoops: int) -> None:
    shape = house_shape(replace(TWELVE, length=feet(length), spacing_wanted=feet(spacing)))
    assert shape.hoops == hoops
    assert shape.hoop_positions[0] == 0
    assert shape.hoop_positions[-1] == feet(length)
    assert shape.spacing <= feet(spacing)
    gaps = [b - a for a, b in itertools.pairwise(shape.hoop_positions)]
    assert max(gaps) - min(gaps) <= Decimal("0.000002")


def test_metric_working_is_in_millimetres() -> None:
    (row,) = rows_of(TWELVE, "ground posts", UnitSystem.METRIC)
    assert "1\u202f219 mm" in row.working
    assert row.length == feet(4)


@given(st.integers(1, 40_000), st.integers(600, 6_500), st.integers(0, 300))
def test_joined_sticks_are_the_fewest_that_reach(run: int, stick: int, slide: int) -> None:
    n = joined_sticks(Decimal(run), Decimal(stick), Decimal(slide))
    assert n * stick - (n - 1) * slide >= run
    assert n == 1 or (n - 1) * stick - (n - 2) * slide < run


@given(
    st.integers(1, 9),
    st.lists(st.integers(1, 30), min_size=1, max_size=4),
    st.sampled_from([Decimal(3), Decimal("4.5"), Decimal("5.000001")]),
)
def test_boards_against_every_way_to_split(bays: int, lengths: list[int], bay: Decimal) -> None:
    run = bay * bays
    sticks = [Decimal(n) for n in lengths]
    if max(sticks) < bay:
        with pytest.raises(ValueError, match="one bay"):
            split_boards(run, bays, sticks)
        return
    best = None
    for cuts in itertools.product((False, True), repeat=bays - 1):
        parts = [1]
        for cut in cuts:
            if cut:
                parts.append(1)
            else:
                parts[-1] += 1
        holders = [min((s for s in sticks if s >= j * bay), default=None) for j in parts]
        if None not in holders:
            key = (sum(h for h in holders if h is not None), len(parts))
            best = key if best is None else min(best, key)
    found = split_boards(run, bays, sticks)
    assert sum(found.bays) == bays
    assert all(stick >= j * bay for j, stick in zip(found.bays, found.sticks, strict=True))
    assert (found.bought, len(found.bays)) == best


@pytest.mark.parametrize("spec", [TWELVE, TWENTY, replace(TWELVE, length=Decimal(14_000), post_length=Decimal(1500))])
def test_a_take_off_is_the_same_in_either_unit_system(spec: HouseSpec) -> None:
    imperial, metric = (
        [replace(row, working="") for row in take_off(house("h", spec), BY_CODE, units)] for units in UnitSystem
    )
    assert imperial == metric


def test_lengths_are_those_of_the_spec_to_the_last_digit() -> None:
    spec = replace(TWELVE, post_length=Decimal(1500), brace_length=Decimal(6000), length=Decimal(17_900))
    spec = replace(spec, film_end_allowance=Decimal(1050))
    assert sizes(rows_of(spec, "ground posts"))[0][0] == 1500
    assert sizes(rows_of(spec, "corner braces"))[0][0] == 6000
    assert sizes(rows_of(spec, "film over the house"))[0][0] == 20_000
    assert sizes(rows_of(spec, "channel along the house"))[0][0] == 17_900


def test_studs_follow_the_arc_to_within_a_sixteenth() -> None:
    """Against the circle through the crown and the springing, worked the other way round."""
    spec = replace(TWENTY, front_door_count=0)
    shape = house_shape(spec)
    (front, _) = walls(built(spec))
    half, rise, leg = float(spec.post_span) / 2, float(shape.rise), float(shape.arc.leg)
    sagitta = rise - leg
    radius = (half * half + sagitta * sagitta) / (2 * sagitta)
    for x, length in front.studs:
        top = math.sqrt(radius**2 - float(x) ** 2) - (radius - sagitta) + leg + float(shape.post_above)
        assert float(length) == pytest.approx(top - float(front.face), abs=0.01)


def test_house_ref_is_on_every_row() -> None:
    built: House = house("north-3", TWENTY)
    assert {row.house for row in take_off(built, BY_CODE, UnitSystem.IMPERIAL)} == {"north-3"}
