"""The trial hoop: what was bent is found again, and the correction gives what is wanted."""

import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import brentq

from farmbuild.mechanics import BendRecipe, GeometryError, Judgement, Target, Verdict, judge
from farmbuild.mechanics.trial import check_pair

INCH = Decimal("25.4")
MICRON = Decimal("0.000001")
#: What a person reads off a tape, and the tolerance that a hoop commonly gets, by unit system.
STEP = {"imperial": INCH / 16, "metric": Decimal(1)}
WITHIN = {"imperial": 2 * INCH, "metric": Decimal(50)}


def recipe(radius: float = 76.0, stop_gap: float = 1.0) -> BendRecipe:
    return BendRecipe(
        stick_length=120 * INCH,
        sticks=2,
        insertion=4 * INCH,
        radius=Decimal(radius) * INCH,
        first_mark=9 * INCH,
        pitch=18 * INCH,
        stop_gap=Decimal(stop_gap) * INCH,
    )


def exact(length: float) -> Decimal:
    return Decimal(length).quantize(MICRON)


def target(span: float | Decimal, **within: Decimal) -> Target:
    given = {"span_tolerance": INCH * 3 / 2, "rise_tolerance": INCH * 2, "twist_tolerance": INCH * 3 / 2} | within
    return Target(free_span=exact(span), **given)


def judged(bent: BendRecipe, wanted: Target, span: float, rise: float, twist: Decimal = Decimal(0)) -> Judgement:
    return judge(bent, wanted, exact(span), exact(rise), twist)


#: From a recipe with straight legs, across the half circle at 75.1, to a flat arc; in inches.
RADII = st.floats(55, 160)


def stand(bent: BendRecipe, radius: float) -> tuple[float, float]:
    """Span and rise of what ``bent`` gives when every pull comes out on ``radius``, by walking along the pipe."""
    along = np.linspace(0, float(bent.developed), 40_001)
    turn = sum(np.clip(along, start, end) - start for start, end in bent.stretches) / radius
    points = cumulative_trapezoid(np.exp(-1j * turn), along, initial=0)
    points = points * abs(points[-1]) / points[-1]
    return abs(points[-1]), points.imag.max()


@given(RADII)
def test_the_radius_comes_back_from_the_measured_hoop(radius):
    bent = recipe(radius)
    assert bent.hoop_over(bent.hoop.span).radius == pytest.approx(float(bent.radius), rel=1e-6)


@given(st.floats(0.05, 0.99))
def test_the_radius_of_a_pipe_bent_from_end_to_end_against_brentq(ratio):
    half = brentq(lambda a: math.sin(a) / a - ratio, 1e-9, math.pi)
    bent = replace(recipe(100), all_along=True)
    pipe = float(bent.developed)
    assert bent.hoop_over(pipe * ratio).radius == pytest.approx(pipe / (2 * half), rel=1e-6)


@given(RADII, st.floats(0.85, 1.2), st.floats(0.9, 1.1))
def test_the_correction_gives_the_target(radius, missed_by, aimed_by):
    """Bent again with each pull turned by what the judgement says, the hoop has the wanted span.

    The pulls came out on another radius than the recipe's, and the span wanted is not quite the recipe's either.
    """
    bent = recipe(radius)
    span, rise = stand(bent, float(bent.radius) * missed_by)
    aimed, _ = stand(bent, float(bent.radius) * aimed_by)
    said = judged(bent, target(aimed), span, rise)
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
    assume(abs(span - wanted) > 1.6 * float(INCH))
    said = judged(bent, target(wanted), span, rise)
    assert said.verdict == (Verdict.OVER_BENT if missed_by < 1 else Verdict.UNDER_BENT)
    assert (said.more_a_pull < 0) == (missed_by < 1)
    assert said.gap_change <= 0 or missed_by < 1


def test_inside_the_tolerance_is_accepted():
    bent = recipe()
    said = judged(bent, target(bent.hoop.span + float(INCH)), bent.hoop.span, bent.hoop.rise)
    assert said.verdict == Verdict.ACCEPTED


def test_a_gap_that_cannot_close_further_says_what_is_then_reached():
    bent, right = recipe(100, stop_gap=0.0), recipe(90)
    said = judged(bent, target(right.hoop.span), bent.hoop.span, bent.hoop.rise)
    assert said.gap_after == 0
    assert said.span_after == pytest.approx(bent.hoop.span)


def test_no_correction_for_what_is_no_arc():
    bent = recipe()
    peaked = judged(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise + 3 * float(INCH))
    flat = judged(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise - 3 * float(INCH))
    twisted = judged(bent, target(bent.hoop.span), bent.hoop.span, bent.hoop.rise, twist=-2 * INCH)
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
    [(240, 10, "span"), (150, 0, "rise"), (150, 100, "rise"), (0, 50, "span"), (236, 1, "span")],
)
def test_what_no_pipe_can_measure_is_refused(span, rise, part):
    with pytest.raises(GeometryError) as refused:
        judge(recipe(), target(150 * INCH), span * INCH, rise * INCH)
    assert refused.value.part == part


def on_the_tape(system: str) -> list[Decimal]:
    """Every free span from 8 to 18 ft that the tape shows: to 1/8 in, and to the millimetre."""
    every, first, last = STEP[system] * (2 if system == "imperial" else 1), INCH * 96, INCH * 216
    start = -(-first // every)
    return [every * n for n in range(int(start), int(last // every) + 1)]


@pytest.mark.parametrize("system", ["imperial", "metric"])
@pytest.mark.parametrize("side", [-1, 1])
def test_a_span_off_by_the_whole_tolerance_is_accepted_and_one_step_more_is_not(system, side):
    bent, any_rise = recipe(), {"rise_tolerance": Decimal(10_000)}
    refused = Verdict.OVER_BENT if side < 0 else Verdict.UNDER_BENT
    for span in on_the_tape(system):
        wanted = Target(span, WITHIN[system], twist_tolerance=Decimal(0), **any_rise)
        said = [judge(bent, wanted, span + side * (WITHIN[system] + more), INCH).verdict for more in (0, STEP[system])]
        assert said == [Verdict.ACCEPTED, refused], span


@pytest.mark.parametrize("side", [-1, 1])
def test_a_rise_and_a_twist_off_by_the_whole_tolerance_are_accepted_and_more_is_not(side):
    bent = recipe()
    for span in on_the_tape("imperial")[::16]:
        wanted = target(span)
        arc = exact(judge(bent, target(span, rise_tolerance=Decimal(10_000)), span, INCH).rise_of_arc)
        edge = arc + side * wanted.rise_tolerance
        assert judge(bent, wanted, span, edge, side * wanted.twist_tolerance).verdict == Verdict.ACCEPTED
        assert judge(bent, wanted, span, edge + side * MICRON).verdict == Verdict.NOT_AN_ARC
        assert judge(bent, wanted, span, arc, side * (wanted.twist_tolerance + MICRON)).verdict == Verdict.TWISTED


def test_a_pair_that_takes_the_pipe_in_two_straight_lines_can_just_be():
    """3, 4 and 5 make a right angle: half a span of 70.8 in and a rise of 94.4 in take half of 236 in of pipe."""
    bent, span, rise = recipe(), INCH * Decimal("141.6"), INCH * Decimal("94.4")
    assert judge(bent, target(span), span, rise).verdict == Verdict.NOT_AN_ARC
    for more in ((span + MICRON, rise), (span, rise + MICRON)):
        with pytest.raises(GeometryError, match="needs at least 5\u202f994 mm of pipe"):
            judge(bent, target(span), *more)


def test_a_pipe_that_just_reaches_is_a_pair_that_can_be():
    """3 wide and 2 high: two straight halves of 2 1/2, 5 of pipe in all."""
    check_pair(Decimal(5), Decimal(3), Decimal(2))
    with pytest.raises(GeometryError, match="needs at least"):
        check_pair(Decimal(5), Decimal(3), Decimal("2.001"))
