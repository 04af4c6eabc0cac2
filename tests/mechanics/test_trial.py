"""The trial hoop: what was bent is found again, and the correction gives what is wanted."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from farmbuild.mechanics import BendRecipe, GeometryError, Target, Verdict, effective_radius, judge

INCH = 25.4


def recipe(radius: float = 76.0, stop_gap: float = 1.0) -> BendRecipe:
    inch = Decimal("25.4")
    return BendRecipe(
        stick_length=120 * inch,
        sticks=2,
        insertion=4 * inch,
        radius=Decimal(radius) * inch,
        first_mark=9 * inch,
        pitch=18 * inch,
        stop_gap=Decimal(stop_gap) * inch,
    )


def target(span: float) -> Target:
    return Target(free_span=span, span_tolerance=1.5 * INCH, rise_tolerance=2 * INCH, twist_tolerance=1.5 * INCH)


RADII = st.floats(75.2, 160)


@given(RADII)
def test_the_radius_comes_back_from_the_measured_hoop(radius):
    bent = recipe(radius)
    assert effective_radius(float(bent.developed), bent.hoop.span) == pytest.approx(float(bent.radius), rel=1e-6)


@given(st.floats(0.66, 0.99))
def test_effective_radius_against_brentq(ratio):
    half = brentq(lambda a: math.sin(a) / a - ratio, 1e-9, math.pi)
    assert effective_radius(1000, 1000 * ratio) == pytest.approx(1000 / (2 * half), rel=1e-6)


@given(RADII, RADII)
def test_the_correction_gives_the_target(bent_to, wanted):
    """Bent again with each pull turned by what the judgement says, the hoop has the wanted span."""
    bent, right = recipe(bent_to), recipe(wanted)
    said = judge(bent, target(right.hoop.span), bent.hoop.span, bent.hoop.rise)
    pull = bent.radians_a_pull + said.more_a_pull
    again = replace(bent, radius=Decimal(float(bent.pitch) / pull))
    assert again.hoop.span == pytest.approx(right.hoop.span, rel=1e-6)
    if said.gap_after > 0:
        assert said.span_after == pytest.approx(right.hoop.span, rel=1e-6)


@given(RADII, RADII)
def test_too_tight_is_over_bent_and_too_wide_is_under_bent(bent_to, wanted):
    bent, right = recipe(bent_to), recipe(wanted)
    assume(abs(bent.hoop.span - right.hoop.span) > 1.6 * INCH)
    said = judge(bent, target(right.hoop.span), bent.hoop.span, bent.hoop.rise)
    assert said.verdict == (Verdict.OVER_BENT if bent_to < wanted else Verdict.UNDER_BENT)
    assert (said.gap_change > 0) == (bent_to < wanted)


def test_inside_the_tolerance_is_accepted():
    bent = recipe()
    said = judge(bent, target(bent.hoop.span + INCH), bent.hoop.span, bent.hoop.rise)
    assert said.verdict == Verdict.ACCEPTED


def test_a_gap_that_cannot_close_further_says_what_is_then_reached():
    bent, right = recipe(100, stop_gap=0.0), recipe(90)
    said = judge(bent, target(right.hoop.span), bent.hoop.span, bent.hoop.rise)
    assert said.gap_after == 0
    assert said.span_after == pytest.approx(bent.hoop.span)


def test_no_correction_for_what_is_no_arc():
    bent = recipe()
    peaked = judge(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise + 3 * INCH)
    flat = judge(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise - 3 * INCH)
    twisted = judge(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise, twist=2 * INCH)
    assert [said.verdict for said in (peaked, flat, twisted)] == [
        Verdict.NOT_AN_ARC,
        Verdict.NOT_AN_ARC,
        Verdict.TWISTED,
    ]
    assert "tighter than the sides" in peaked.cause
    assert "flatter than the shoulders" in flat.cause
    assert peaked.more_a_pull is flat.more_a_pull is twisted.more_a_pull is None


@pytest.mark.parametrize(
    ("span", "rise", "part"), [(240, 10, "span"), (150, 0, "rise"), (150, 100, "rise"), (0, 50, "span")]
)
def test_what_no_pipe_can_measure_is_refused(span, rise, part):
    with pytest.raises(GeometryError) as refused:
        judge(recipe(), target(150 * INCH), span * INCH, rise * INCH)
    assert refused.value.part == part
