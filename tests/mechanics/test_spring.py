"""Spring-in against the handbook's half circle and a general frame-analysis package."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.mechanics import TUBES, BendRecipe, BentHoop, Hoop, bent_hoop, spring_in
from farmbuild.mechanics.spring import stress_in

RAIL = TUBES["rail-1-3-8"]


def arc(half_angle_degrees: float, radius: float = 1900.0) -> Hoop:
    half = math.radians(half_angle_degrees)
    return Hoop(2 * radius * half, radius, half, 0.0)


def test_half_circle_of_the_handbook():
    """d = pi F R^3 / (2 E I): Roark, curved beams and circular arches; Timoshenko, strength of materials."""
    hoop = bent_hoop(math.pi * 1900, 1900)
    sprung = spring_in(hoop, RAIL, 150)
    force = 150 * 2 * RAIL.e_mpa * RAIL.second_moment / (math.pi * 1900**3)
    assert sprung.force == pytest.approx(force, rel=1e-6)
    assert sprung.crown_moment == pytest.approx(force * 1900, rel=1e-6)
    # Bending stress M c / I; halfway up the hoop half of that at the crown.
    assert sprung.stress == pytest.approx(sprung.crown_moment / RAIL.section_modulus, rel=1e-9)
    assert stress_in(sprung, 950, RAIL) == pytest.approx(sprung.stress / 2, rel=1e-9)


def test_design_formula_for_any_half_angle():
    for degrees in (30, 75, 90, 120, 150):
        a = math.radians(degrees)
        k = a * (1 + 2 * math.cos(a) ** 2) - 3 * math.sin(a) * math.cos(a)
        assert arc(degrees).flexibility == pytest.approx(1900**3 * k)


#: 12 ft hoop of two 10 ft sticks whose last marks are left off: straight by the joint and at one end.
FLATS = BendRecipe(
    *(Decimal(n) * Decimal("25.4") for n in (120,)), 2, *(Decimal(n) * Decimal("25.4") for n in (4, 79, 9, 18))
)
#: Two 6 m sticks: a half circle with part pulls and legs of 2 m.
LEGS = BendRecipe(Decimal(6000), 2, Decimal(120), Decimal(2400), Decimal(250), Decimal(500))


def test_a_hoop_of_pulls_without_straights_is_the_arc():
    for degrees in (1, 30, 75, 90, 120, 150):
        hoop = arc(degrees)
        bent = BentHoop(hoop.developed, 1 / hoop.radius, ((0.0, hoop.developed),))
        assert (bent.span, bent.rise) == pytest.approx((hoop.span, hoop.rise))
        assert bent.flexibility == pytest.approx(hoop.flexibility, rel=1e-6)


def frame(hoop: Hoop | BentHoop, force: float, beams: int = 240):
    """The hoop as a polygon of straight beams with equal and opposite forces at its ends: (closing, crown moment)."""
    from Pynite import FEModel3D

    model = FEModel3D()
    model.add_material("steel", RAIL.e_mpa, 77_000, 0.3, 7.85e-9)
    model.add_section("tube", RAIL.area, RAIL.second_moment, RAIL.second_moment, 2 * RAIL.second_moment)
    points = hoop.outline(beams)
    for index, (x, y) in enumerate(points):
        model.add_node(f"n{index}", x, y, 0)
        # In its plane only: no move out of it and no turning about the in-plane axes.
        model.def_support(f"n{index}", False, False, True, True, True, False)
    for index in range(beams):
        model.add_member(f"m{index}", f"n{index}", f"n{index + 1}", "steel", "tube")
    model.def_support("n0", True, True, True, True, True, False)
    model.def_support(f"n{beams}", False, True, True, True, True, False)
    model.add_node_load(f"n{beams}", "FX", -force)
    # Its own test for stability takes the rounding of so many short beams for a loose joint.
    model.analyze_linear(check_stability=False)
    closing = -model.nodes[f"n{beams}"].DX["Combo 1"]
    crown = model.members[f"m{beams // 2 - 1}"].moment("Mz", model.members[f"m{beams // 2 - 1}"].L(), "Combo 1")
    return closing, abs(crown)


@pytest.mark.parametrize(
    "hoop", [*map(arc, (30, 60, 90, 120, 150)), bent_hoop(7000, 1900), FLATS.hoop, LEGS.hoop], ids=str
)
def test_against_a_frame_of_straight_beams(hoop):
    sprung = spring_in(hoop, RAIL, 100)
    closing, crown = frame(hoop, sprung.force)
    # The frame's pipe also shortens along its length, which a thin curved beam leaves out: the integral of
    # F cos^2 / (E A) along the arc, 0.4 mm of 100 at a half angle of 30 degrees and ever less beyond.
    a = hoop.half_angle
    shortening = sprung.force * hoop.radius * (a + math.sin(a) * math.cos(a)) / (RAIL.e_mpa * RAIL.area)
    assert closing == pytest.approx(100 + shortening, rel=0.005)
    assert crown == pytest.approx(sprung.crown_moment, rel=0.005)


def test_the_elastic_limit_is_where_the_stress_meets_yield():
    hoop = arc(90)
    limit = spring_in(hoop, RAIL, 1).elastic_limit
    assert spring_in(hoop, RAIL, limit).stress == pytest.approx(RAIL.yield_mpa)
    assert not spring_in(hoop, RAIL, limit * 0.99).takes_set
    assert spring_in(hoop, RAIL, limit * 1.01).takes_set
    assert spring_in(hoop, RAIL, -limit * 1.01).takes_set


def test_stress_at_yield_springs_back_and_a_tube_of_unknown_steel_says_nothing():
    hoop = arc(90)
    sprung = spring_in(hoop, RAIL, 100)
    for inward in (100, -100):
        assert spring_in(hoop, replace(RAIL, yield_mpa=sprung.stress), inward).takes_set is False
        assert spring_in(hoop, replace(RAIL, yield_mpa=math.nextafter(sprung.stress, 0)), inward).takes_set is True
    unknown = spring_in(hoop, replace(RAIL, yield_mpa=None), 100)
    assert (unknown.takes_set, unknown.elastic_limit) == (None, None)
    assert unknown.stress == sprung.stress
