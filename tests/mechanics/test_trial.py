"""The trial hoop: what was bent is found again, and the correction gives what is wanted."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import trapezoid
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


#: From a recipe with straight legs, across the half circle at 75.1, to a flat arc; in inches.
RADII = st.floats(55, 160)


def stand(bent: BendRecipe, radius: float) -> tuple[float, float]:
    """Span and rise of what ``bent`` gives when every pull comes out on ``radius``, by walking along the pipe."""
    length = float(bent.developed)
    reach = bent.bent_length / 2
    along = np.linspace(0, length / 2, 20_001)
    turn = np.minimum(along, reach) / radius
    return 2 * trapezoid(np.cos(turn), along), trapezoid(np.sin(turn), along)


@given(RADII)
def test_the_radius_comes_back_from_the_measured_hoop(radius):
    bent = recipe(radius)
    found = effective_radius(float(bent.developed), bent.hoop.span, bent=bent.bent_length)
    assert found == pytest.approx(float(bent.radius), rel=1e-6)


@given(st.floats(0.05, 0.99))
def test_effective_radius_against_brentq(ratio):
    half = brentq(lambda a: math.sin(a) / a - ratio, 1e-9, math.pi)
    assert effective_radius(1000, 1000 * ratio) == pytest.approx(1000 / (2 * half), rel=1e-6)


@given(RADII, st.floats(0.85, 1.2), st.floats(0.9, 1.1))
def test_the_correction_gives_the_target(radius, missed_by, aimed_by):
    """Bent again with each pull turned by what the judgement says, the hoop has the wanted span.

    The pulls came out on another radius than the recipe's, and the span wanted is not quite the recipe's either.
    """
    bent = recipe(radius)
    span, rise = stand(bent, float(bent.radius) * missed_by)
    aimed, _ = stand(bent, float(bent.radius) * aimed_by)
    said = judge(bent, target(aimed), span, rise)
    assert said.effective_radius == pytest.approx(float(bent.radius) * missed_by, rel=1e-5)
    assert said.rise_of_arc == pytest.approx(rise, rel=1e-5)
    pull = float(bent.pitch) / said.effective_radius + said.more_a_pull
    assert math.degrees(said.more_a_pull) == said.degrees_more_a_pull
    assert stand(bent, float(bent.pitch) / pull)[0] == pytest.approx(aimed, rel=1e-5)
    if said.gap_after > 0:
        assert said.span_after == pytest.approx(aimed, rel=1e-5)


@given(RADII, st.floats(0.85, 1.2))
def test_too_tight_is_over_bent_and_too_wide_is_under_bent(radius, missed_by):
    bent = recipe(radius)
    wanted = stand(bent, float(bent.radius))[0]
    span, rise = stand(bent, float(bent.radius) * missed_by)
    assume(abs(span - wanted) > 1.6 * INCH)
    said = judge(bent, target(wanted), span, rise)
    assert said.verdict == (Verdict.OVER_BENT if missed_by < 1 else Verdict.UNDER_BENT)
    assert (said.more_a_pull < 0) == (missed_by < 1)
    assert said.gap_change <= 0 or missed_by < 1


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
    twisted = judge(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise, twist=-2 * INCH)
    assert [said.verdict for said in (peaked, flat, twisted)] == [
        Verdict.NOT_AN_ARC,
        Verdict.NOT_AN_ARC,
        Verdict.TWISTED,
    ]
    assert "tighter than the sides" in peaked.cause
    assert "flatter than the shoulders" in flat.cause
    assert peaked.more_a_pull is flat.more_a_pull is twisted.more_a_pull is None


@pytest.mark.parametrize(
    ("span", "rise", "part"),
    [(240, 10, "span"), (150, 0, "rise"), (150, 100, "rise"), (0, 50, "span"), (150, math.nan, "rise")],
)
def test_what_no_pipe_can_measure_is_refused(span, rise, part):
    with pytest.raises(GeometryError) as refused:
        judge(recipe(), target(150 * INCH), span * INCH, rise * INCH)
    assert refused.value.part == part
