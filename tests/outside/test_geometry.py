"""Heights and places of a house by plain trigonometry, and the counts of a builder."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.mechanics import BendRecipe
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.parts.ends import walls
from farmbuild.planning.house.shape import house_shape
from farmbuild.planning.house.spec import SideClosing
from farmbuild.planning.house.survey import survey
from farmbuild.planning.house.takeoff import take_off
from tests.outside.pulls import span_and_rise
from tests.planning.seasons import BY_CODE, TWELVE, TWENTY, feet, house, inches


@pytest.mark.parametrize("depth", ["0", "4", "6", "7.3125"])
def test_a_hoop_stands_lower_by_the_depth_of_its_socket(depth: str) -> None:
    """A 20 ft house: three sticks of 10 ft, 6 in slid in, 348 in of pipe over 240 in. Half angle a with sin a / a =
    240 / 348, near 1.437; radius 348 / 2a; rise R (1 - cos a). The end of the hoop is ``depth`` below the
    top of a post that stands 30 in out."""
    a = 1.4
    for _ in range(200):
        a = math.sin(a) * 348 / 240  # The fixed point of a = sin a x pipe / span.
    radius = 348 / (2 * a)
    shape = house_shape(replace(TWENTY, post_socket_depth=inches(depth)))
    end = 30 - float(depth)
    assert float(shape.ridge_height) / 25.4 == pytest.approx(end + radius * (1 - math.cos(a)), abs=1e-6)
    for x in (0, 24, 48, 96, 110):
        over = radius * (1 - math.cos(a)) - (radius - math.sqrt(radius**2 - x**2))
        assert float(shape.height_at(inches(x))) / 25.4 == pytest.approx(end + over, abs=1e-6)


@pytest.mark.parametrize(
    ("spacing", "studs"), [("35.625", [-35.625, 0, 35.625]), ("34.7", [-69.4, -34.7, 0, 34.7, 69.4])]
)
def test_no_stud_stands_in_a_ground_post(spacing: str, studs: list[float]) -> None:
    """Posts 1.66 in across stand 72 in from the middle, so their faces are at 71.17; a stud 1-1/2 in thick at 71.25
    would stand in one, and one at 69.4 has its edge at 70.15."""
    spec = replace(TWELVE, front_door_count=0, end_stud_spacing=inches(spacing))
    (front, _) = walls(house_context(spec, BY_CODE, UnitSystem.IMPERIAL))
    assert [float(x) / 25.4 for x, _ in front.studs] == studs


def test_what_a_builder_counts_for_20_by_96() -> None:
    """A ridge and two side purlins over 25 hoops are 75 crossings; 25 hoops stand in 50 posts; 4 braces have 8 ends."""
    spec = replace(
        TWENTY,
        side_purlins=2,
        brace_count=4,
        purlin_connector_material="bolt",
        post_fastener_material="screw",
        brace_clamp_material="bolt",
    )
    assert (spec.length, spec.spacing_wanted) == (feet(96), feet(4))
    rows = {row.purpose: row.quantity for row in take_off(house("a", spec), BY_CODE, UnitSystem.IMPERIAL)}
    assert rows["purlin connectors"] == 75
    assert rows["hoop-to-post fasteners"] == 50
    assert rows["brace clamps"] == 8
    assert rows["hoops"] == 75, "three sticks each"


#: sticks, stick, insertion, radius, first mark, distance between marks, and sleeve where one joins, mm.
HOOPS = {
    "12 ft": (2, 120, 4, 79, 9, 18),
    "20 ft": (3, 120, 4, 131, 9, 18),
    "four sticks": (4, 120, 6, 170, 9, 18),
    "one stick": (1, 120, 0, 38, 9, 18),
    "on legs": (2, 120, 4, 60, 9, 18),
    "odd marks": (3, 126, 4.25, 140, 5.5, 13.25),
    "metric": (2, 6000, 120, 4400, 250, 500),
    "metric on legs": (2, 6000, 120, 2400, 250, 500),
    "metric four": (4, 3500, 100, 5200, 250, 450),
    "metric one": (1, 3000, 0, 970, 250, 400),
    "sleeved": (2, 120, 0, 79, 15, 18, 12),
    "sleeved, three, marks left off": (3, 120, 0, 131, 9, 18, 10),
    "sleeved on legs": (2, 120, 0, 60, 15, 18, 12),
    "metric sleeved": (2, 6000, 0, 4400, 400, 500, 300),
    "metric sleeved, four": (4, 3000, 0, 4000, 325, 400, 250),
}


@pytest.mark.parametrize("name", HOOPS)
def test_a_hoop_bent_as_told_measures_as_told(name: str) -> None:
    """Walked in steps of a quarter of a millimetre."""
    sticks, *sizes = HOOPS[name]
    stick, insertion, radius, first, pitch, *sleeve = (
        Decimal(str(size)) * (1 if name.startswith("metric") else Decimal("25.4")) for size in sizes
    )
    hoop = BendRecipe(stick, sticks, insertion, radius, first, pitch, sleeve=sum(sleeve, Decimal(0))).hoop
    span, rise = span_and_rise(sticks, *map(float, (stick, insertion, radius, first, pitch, *sleeve)))
    assert hoop.span == pytest.approx(span, abs=0.05)
    assert hoop.rise == pytest.approx(rise, abs=0.05)


@pytest.mark.parametrize(
    ("span", "long", "inches_"),
    [
        ("12", "16", "240"),
        ("20", "96", "1176.75"),
        ("20.30208333333333", "53.4375", "686"),
    ],
)
def test_corners_are_square_by_the_diagonal(span: str, long: str, inches_: str) -> None:
    """12 by 16 is three and four, so 20 ft; 20 by 96 is the root of 9616, 98.0612 ft or 1176.73 in, to a quarter
    1176.75; 243.625 by 641.25 in is 685.97."""
    spec = replace(TWENTY, post_span=inches(round(float(span) * 12, 6)), length=feet(long))
    found = survey(house_shape(spec))
    assert float(found.diagonal) == pytest.approx(math.hypot(float(spec.post_span), float(spec.length)), abs=1e-5)
    assert found.taped_diagonal(UnitSystem.IMPERIAL) == inches(inches_)
    assert abs(found.taped_diagonal(UnitSystem.METRIC) - found.diagonal) <= Decimal("2.5")
    bays = math.ceil(float(spec.length / spec.spacing_wanted))
    assert [round(float(place), 6) for place in found.places] == [
        round(float(spec.length) * n / bays, 6) for n in range(bays + 1)
    ]


@pytest.mark.parametrize(("socket", "least", "width"), [("0", "3' 6\"", "36' 4\""), ("6", "3'", "35' 4\"")])
def test_film_has_to_reach_the_ground(socket: str, least: str, width: str) -> None:
    """Three sticks of 10 ft with 4 in slid in are 352 in of pipe. Posts that stand 42 in out want 42 in of film below
    each end of the hoop, less what the hoop stands in them: 352 + 84 = 436 in, 36 ft 4 in."""
    recipe = replace(TWENTY.recipe, insertion=inches(4), radius=inches(131))
    spec = replace(TWENTY, recipe=recipe, post_length=inches(72), post_depth=inches(30))
    spec = replace(spec, post_socket_depth=inches(socket))
    for spare, closing, told in (
        ("16", SideClosing.BURIED, True),
        ("24", SideClosing.BURIED, True),
        ("16", SideClosing.OPEN, False),
        ("42", SideClosing.BURIED, False),
    ):
        tried = replace(spec, film_side_allowance=inches(spare), side_closing=closing)
        problems = check_spec(tried, BY_CODE, UnitSystem.IMPERIAL)
        assert {problem.field for problem in problems} == ({"film_side_allowance"} if told else set())
        assert all(f"Type at least {least}, which takes film {width} wide" in one.message for one in problems)
