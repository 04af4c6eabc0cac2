"""How deep a hoop stands in its posts lowers the ridge and all that is measured up to the hoop.

Heights are worked out here by plain trigonometry: a hoop longer than the half circle over its span is that half circle
on straight legs, a shorter one the arc whose sine over its angle is the span over its length.
"""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.parts.ends import walls
from farmbuild.planning.house.parts.purlins import places
from farmbuild.planning.house.shape import house_shape
from farmbuild.planning.house.spec import House, HouseSpec
from farmbuild.planning.house.takeoff import take_off
from tests.planning.seasons import BY_CODE, TWELVE, TWENTY, feet, house, inches

INCH = 25.4
#: Developed length, post span and post above the ground, in inches: 2 x 120 - 6, and 3 x 120 - 2 x 6.
SIZES = {"twelve": (TWELVE, 234.0, 144.0, 24.0), "twenty": (TWENTY, 348.0, 240.0, 30.0)}
of_each = pytest.mark.parametrize("name", SIZES)
DEPTHS = [0.0, 4.0, 6.0, 11.5]


def rise_at(developed: float, span: float, x: float) -> float:
    """Of the hoop's centreline above its ends, ``x`` from the middle."""
    if developed >= math.pi * span / 2:
        leg = (developed - math.pi * span / 2) / 2
        return leg + math.sqrt(max(0.0, span**2 / 4 - x * x))
    low, high = 1e-6, math.pi / 2
    for _ in range(200):
        half = (low + high) / 2
        low, high = (half, high) if math.sin(half) / half > span / developed else (low, half)
    radius = developed / 2 / half
    return math.sqrt(radius**2 - x * x) - radius * math.cos(half)


def sunk(spec: HouseSpec, depth: float) -> HouseSpec:
    return replace(spec, post_socket_depth=inches(depth))


@of_each
@pytest.mark.parametrize("depth", DEPTHS)
def test_the_ridge_is_lower_by_the_depth(name: str, depth: float) -> None:
    spec, developed, span, above = SIZES[name]
    shape = house_shape(sunk(spec, depth))
    assert shape.foot_height == inches(above) - inches(depth)
    assert shape.socket_depth == inches(depth)
    assert float(shape.ridge_height) == pytest.approx((above - depth + rise_at(developed, span, 0)) * INCH, abs=0.01)
    for x in (10.0, 33.3, 70.0):
        wanted = above - depth + rise_at(developed, span, x)
        assert float(shape.height_at(inches(x))) == pytest.approx(wanted * INCH, abs=0.01)


@of_each
@pytest.mark.parametrize("depth", DEPTHS)
def test_studs_door_posts_and_purlins_are_lower_by_it(name: str, depth: float) -> None:
    spec, developed, span, above = SIZES[name]
    spec = replace(sunk(spec, depth), front_door_height=feet(5), back_door_count=0)
    assert check_spec(spec, BY_CODE, UnitSystem.IMPERIAL) == []
    built = house_context(spec, BY_CODE, UnitSystem.IMPERIAL)
    front, back = walls(built)
    full = [(x, length + front.face) for x, length in (*front.studs, *back.studs)]
    short = [(x, length + spec.front_door_height + front.face) for x, length in front.short_studs]
    opening = float(front.opening) / 2 / INCH
    tops = [(x, float(top)) for x, top in (*full, *short)]
    # The door posts are half their face further out than the opening, and are cut at their middle.
    tops += [(inches(opening + 0.75), float(length)) for _, length in front.door_posts]
    assert len(full) > 4 and len(front.door_posts) == 2
    for x, top in tops:
        wanted = above - depth + rise_at(developed, span, float(x) / INCH)
        assert top == pytest.approx(wanted * INCH, abs=0.01)
    for purlin in places(built):
        wanted = above - depth + rise_at(developed, span, float(purlin.x) / INCH)
        assert float(purlin.height) == pytest.approx(wanted * INCH, abs=0.01)


def test_a_door_that_just_fits_no_longer_fits_a_deeper_hoop() -> None:
    """25.5 in from the middle the hoop is 95.236 in up, 93.736 in with its header off, 87.736 in when 6 in deeper."""
    spec = replace(TWELVE, front_door_count=1, front_door_width=feet(4), front_door_height=inches("93.5"))
    assert check_spec(spec, BY_CODE, UnitSystem.IMPERIAL) == []
    (found,) = check_spec(sunk(spec, 6), BY_CODE, UnitSystem.IMPERIAL)
    assert found.field == "front_door_height" and "Type 7' 3 11/16\" or less" in found.message
    assert check_spec(replace(sunk(spec, 6), front_door_height=inches("87.6875")), BY_CODE, UnitSystem.IMPERIAL) == []


def test_a_stop_is_one_in_each_post() -> None:
    """48 ft at 4 ft is 13 hoops, so 26 posts."""
    rows = take_off(house("a", replace(sunk(TWELVE, 6), post_stop_material="bolt")), BY_CODE, UnitSystem.IMPERIAL)
    (stops,) = [row for row in rows if row.purpose == "hoop stops"]
    assert (stops.material, stops.quantity, stops.length) == ("bolt", 26, None)
    assert '6" deep' in stops.working
    crimped: House = house("b", sunk(TWELVE, 6))
    assert not [row for row in take_off(crimped, BY_CODE, UnitSystem.IMPERIAL) if row.purpose == "hoop stops"]


@pytest.mark.parametrize("depth", ["23.99", "1"])
def test_any_depth_less_than_the_post_stands_out_is_taken(depth: str) -> None:
    spec = replace(TWELVE, post_socket_depth=inches(depth), front_door_count=0)
    assert check_spec(spec, BY_CODE, UnitSystem.METRIC) == []
    assert house_shape(spec).foot_height == Decimal(24) * Decimal("25.4") - inches(depth)
