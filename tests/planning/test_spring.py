"""How far hoops may be sprung in: one limit, the range of tube and radius, and when the pipe stays bent."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.shape import bend_recipe, free_span
from farmbuild.planning.house.spec import Recipe
from farmbuild.planning.house.spring import (
    MAX_SPRING_IN,
    most_spring_in,
    range_words,
    section_of,
    springs_back,
    wanted_spring_in,
)
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.season.snapshot import from_plain, to_plain
from tests.planning.seasons import BY_CODE, TWELVE, feet, house, inches

IMPERIAL, METRIC = UnitSystem.IMPERIAL, UnitSystem.METRIC
RAIL = replace(BY_CODE["rail-1-3-8"], yield_mpa=Decimal(345))
EMT = Material("emt-3-4", "3/4 EMT", Kind.TUBE, inches("0.922"), inches("0.049"), yield_mpa=Decimal(207))
#: Marks that leave nothing straight: 7 1/2 in and every 15 in of 120 in.
EVEN = Recipe("12 ft", "rail-1-3-8", feet(10), 2, inches(4), inches(79), inches("7.5"), inches(15), inches(1))
LOW = replace(
    EVEN, tube="emt-3-4", sticks=1, insertion=Decimal(0), radius=inches(38), first_mark=inches(9), pitch=inches(17)
)


def crown_ksi(pipe: float, radius: float, od: float, wall: float, inward: float) -> float:
    """Handbook arc in inches and pounds: F = d E I / (R^3 k), stress F rise (OD / 2) / I; steel at 29,008 ksi."""
    half = pipe / (2 * radius)
    second = math.pi / 64 * (od**4 - (od - 2 * wall) ** 4)
    k = half * (1 + 2 * math.cos(half) ** 2) - 3 * math.sin(half) * math.cos(half)
    force = inward * 29_007.548 * second / (radius**3 * k)
    return force * radius * (1 - math.cos(half)) * od / 2 / second


def said(spec, rail: Material = RAIL, units: UnitSystem = IMPERIAL) -> list[str]:
    materials = BY_CODE | {"rail-1-3-8": rail}
    assert check_spec(spec, materials, units) == []
    return [remark.message for remark in spec_remarks(spec, materials, units) if remark.field == "recipe"]


def over_posts(inward: Decimal):
    return replace(TWELVE, recipe=EVEN, post_span=free_span(EVEN) - inward, front_door_count=0)


def test_47_1_2_in_on_a_hoop_of_two_rails_stays_bent():
    """109 ksi by the handbook, against the 50 ksi of the rail."""
    stress = crown_ksi(236, 79, 1.375, 0.065, 47.5)
    assert stress == pytest.approx(109.4, abs=0.1)
    (words,) = said(over_posts(inches("47.5")))
    assert f"to {stress:.1f} ksi ({stress * 6.894757:.0f} MPa)" in words
    assert "yield at 50.0 ksi (345 MPa), so the hoop would stay bent" in words
    assert words.endswith("Spring it in at most 1' 9 3/4\".")
    (metric,) = said(over_posts(inches("47.5")), units=METRIC)
    assert f"to {stress * 6.894757:.0f} MPa ({stress:.1f} ksi)" in metric
    assert "552 mm" in metric


def test_up_to_the_yield_nothing_is_said():
    limit = springs_back(bend_recipe(EVEN).hoop, section_of(RAIL))
    assert limit is not None
    assert float(limit / 25.4 if isinstance(limit, float) else limit / Decimal("25.4")) == pytest.approx(
        47.5 * 345 / 6.894757 / crown_ksi(236, 79, 1.375, 0.065, 47.5), rel=1e-4
    )
    assert said(over_posts(limit - Decimal("0.001"))) == []
    assert len(said(over_posts(limit + Decimal("0.001")))) == 1


def test_without_a_yield_nobody_can_say_and_a_stored_plan_of_before_says_nothing():
    (words,) = said(over_posts(inches(13)), replace(RAIL, yield_mpa=Decimal(0)))
    assert words == (
        "1-3/8 top rail has no stated yield, so we cannot say when a sprung-in hoop stays bent."
        " Type the maker's yield with the tube."
    )
    assert said(over_posts(inches(13)), replace(RAIL, yield_mpa=None)) == []


def test_the_yield_makes_no_plan_out_of_date():
    assert replace(RAIL, yield_mpa=None) == RAIL
    stored = to_plain(RAIL)
    assert from_plain(Material, stored).yield_mpa == 345
    del stored["yield_mpa"]
    assert from_plain(Material, stored).yield_mpa is None


@pytest.mark.parametrize(
    ("span", "most"), [(inches(72), inches(36)), (feet(8), inches(48)), (feet(12), inches(48)), (feet(20), inches(48))]
)
def test_one_limit_for_every_page(span, most):
    """24 in a side, or half the span of the posts where that is less."""
    assert inches(48) == MAX_SPRING_IN
    assert most_spring_in(span) == most


def test_the_range_is_what_tube_and_radius_allow():
    """3/4 in conduit on 38 in: 30 ksi by the handbook at 5.157 in."""
    low = bend_recipe(LOW).hoop
    words = range_words(low, EMT, feet(6), IMPERIAL)
    by_hand = 207 / 6.894757 / crown_ksi(120, 38, 0.922, 0.049, 1)
    assert by_hand == pytest.approx(5.157, abs=0.001)
    assert words == 'This hoop of 3/4 EMT springs back from at most 5 3/16".'
    assert wanted_spring_in(springs_back(low, section_of(EMT)), IMPERIAL) == inches("3.5")
    assert wanted_spring_in(springs_back(low, section_of(EMT)), METRIC) == 90
    assert wanted_spring_in(None, IMPERIAL) == inches(18)


@pytest.mark.parametrize(
    ("tube", "span", "usual"),
    [
        (RAIL, feet(12), True),
        (RAIL, feet(20), True),
        (RAIL, None, True),
        (RAIL, feet(20) + Decimal(1), False),
        (RAIL, feet(12) - Decimal(1), False),
        (EMT, feet(12), False),
        (replace(RAIL, width=inches("1.315")), feet(14), True),
        (replace(RAIL, width=inches("1.66")), feet(14), False),
    ],
)
def test_the_common_12_to_24_in_are_said_of_rail_over_12_to_20_ft_alone(tube, span, usual):
    words = range_words(bend_recipe(EVEN).hoop, tube, span, IMPERIAL)
    assert ("1' to 2' is common practice for 1-3/8 in rail over posts 12' to 20' apart, no source." in words) is usual


def test_the_takeoff_says_which_marks_are_left_off():
    """At 18 in the mark at 117 in lies in the 4 in that the next stick slides into."""
    spec = replace(TWELVE, recipe=replace(EVEN, first_mark=inches(9), pitch=inches(18)))
    rows = take_off(house("h", spec), BY_CODE, IMPERIAL)
    (hoops,) = [row for row in rows if row.purpose == "hoops"]
    assert hoops.working.endswith("= 26. No mark at 9' 9\": it lies in the joint, which a bend would spoil.")
    rows = take_off(house("h", replace(TWELVE, recipe=EVEN)), BY_CODE, IMPERIAL)
    assert not any("No mark" in row.working for row in rows)
