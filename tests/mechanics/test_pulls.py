"""Bending the pipe in numbers, pull by pull, by nothing but the sheet's words: it measures as the recipe says.

No formula is shared: the rules are told again here, the pipe is walked in short steps, and the
hoop is stood up by turning its points.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem, format_length, parse_length
from farmbuild.measure.lengths import Unit
from farmbuild.mechanics import TUBES, BendRecipe, GeometryError, LeftOff, spring_in

INCH = Decimal("25.4")
#: Points a millimetre of pipe.
FINE = 1


def stand(pipe: float, radius: float, bends: list[tuple[float, float]]) -> tuple[float, float, np.ndarray]:
    """Span, rise and points of a pipe bent on that radius in those places, stood on its ends."""
    edges = sorted({0.0, pipe, *(edge for bend in bends for edge in bend)})
    steps, turns = [], []
    for start, end in pairwise(edges):
        count = max(1, math.ceil((end - start) * FINE))
        middle = (start + end) / 2
        steps += [(end - start) / count] * count
        turns += [any(a < middle < b for a, b in bends)] * count
    length, bent = np.array(steps), np.array(turns)
    after = np.cumsum(length * bent / radius)
    way = -(after - length * bent / radius / 2)
    points = np.concatenate([[0], np.cumsum(length * np.exp(1j * way))])
    chord = points[-1]
    points = points * (abs(chord) / chord)
    return abs(chord), float(points.imag.max()), points


def sheet(recipe: BendRecipe, radius: float) -> list[tuple[float, float]]:
    """Where the pipe is bent, told again: marks, what is left off, half a pitch each way, a half circle at most.

    A sleeve slides over straight ends alone, half of it over each: a pull that would bend these is left off whole.
    """
    step, long = recipe.stick_length - recipe.insertion, recipe.stick_length
    stretches: list[list[float]] = []
    for stick in range(recipe.sticks):
        mark = recipe.first_mark
        while mark < long:
            in_joint = recipe.sticks > 1 and (mark < recipe.insertion or mark > long - recipe.insertion)
            straight = recipe.sleeve / 2 if recipe.sticks > 1 else Decimal(0)
            reach = recipe.pitch / 2
            spoils = straight > 0 and (mark - reach < straight or mark + reach > long - straight)
            if not in_joint and not spoils and long - mark >= 6 * INCH:
                here = max(mark - recipe.pitch / 2, Decimal(0)) + stick * step
                there = min(mark + recipe.pitch / 2, long) + stick * step
                if stretches:
                    here = max(here, Decimal(repr(stretches[-1][1])))
                if there > here:
                    stretches.append([float(here), float(there)])
            mark += recipe.pitch
    middle, half = float(recipe.developed) / 2, math.pi * radius

    def inside(reach: float) -> list[float]:
        return [max(0.0, min(b, middle + reach) - max(a, middle - reach)) for a, b in stretches]

    if sum(inside(middle)) > half + 0.5:
        low, high = 0.0, middle
        for _ in range(80):
            reach = (low + high) / 2
            low, high = (reach, high) if sum(inside(reach)) < half else (low, reach)
        return [
            ((a + b) / 2 - got / 2, (a + b) / 2 + got / 2)
            for (a, b), got in zip(stretches, inside(high), strict=True)
            if got > 5
        ]
    return [(a, b) for a, b in stretches]


def check(recipe: BendRecipe) -> None:
    radius, pipe = float(recipe.radius), float(recipe.developed)
    hoop = recipe.hoop
    span, rise, _ = stand(pipe, radius, sheet(recipe, radius))
    assert abs(hoop.span) == pytest.approx(span, abs=1)
    assert hoop.rise == pytest.approx(rise, abs=1)
    bends = sheet(recipe, radius)
    assert hoop.legs == pytest.approx((bends[0][0], pipe - bends[-1][1]), abs=1)
    # And from the list that is shown: what each pull bends, and by how much.
    shown = [(pull.start, pull.end) for pull in recipe.pulled]
    span, rise, points = stand(pipe, radius, shown)
    assert abs(hoop.span) == pytest.approx(span, abs=0.05)
    assert hoop.rise == pytest.approx(rise, abs=0.05)
    assert math.fsum(map(recipe.degrees_of, recipe.pulled)) <= 180 + 0.02 * recipe.pulls_in_hoop
    # Points in the middle of straights and arcs lie where the walk has them, a point a millimetre.
    for share in (0.1, 0.37, 0.5, 0.81):
        x, y, _ = hoop.point_at(pipe * share)
        near = points - (x + hoop.span / 2 + 1j * y)
        assert float(abs(near).min()) < 0.6


@st.composite
def recipes(draw, units: str, *, sleeved: bool = False) -> BendRecipe:
    """Of one to four sticks, with sizes that a tape shows in those units."""
    unit, tick = (INCH, Decimal("0.25")) if units == "imperial" else (Decimal(25), Decimal("0.2"))
    size = lambda low, high: tick * draw(st.integers(math.ceil(low / tick), math.floor(high / tick))) * unit  # noqa: E731
    sticks = draw(st.integers(1, 4))
    stick = draw(
        st.sampled_from(
            [INCH * 120, INCH * 126, INCH * 252] if units == "imperial" else [Decimal(n) for n in (3000, 4000, 6000)]
        )
    )
    pitch = size(Decimal(6), Decimal(30))
    sizes = {
        "stick_length": stick,
        "sticks": sticks,
        "insertion": size(Decimal(2), Decimal(8)) if sticks > 1 and not sleeved else Decimal(0),
        "sleeve": size(Decimal(2), Decimal(24)) if sleeved else Decimal(0),
        "radius": size(Decimal(30), Decimal(250)),
        "first_mark": size(Decimal(0), Decimal(30)),
        "pitch": pitch,
    }
    try:
        return BendRecipe(**sizes)
    except GeometryError:
        assume(False)
        raise


@pytest.mark.parametrize("units", ["imperial", "metric"])
@given(st.data())
def test_a_hoop_bent_as_told_measures_as_told(units, data):
    check(data.draw(recipes(units)))


@pytest.mark.parametrize("units", ["imperial", "metric"])
@given(st.data())
def test_a_sleeved_hoop_bent_as_told_measures_as_told_and_loses_no_pipe(units, data):
    recipe = data.draw(recipes(units, sleeved=True))
    check(recipe)
    assert recipe.developed == recipe.sticks * recipe.stick_length
    assert recipe.joints == [n * recipe.stick_length for n in range(1, recipe.sticks)]
    assert sum(part.length for part in recipe.hoop.pieces) == pytest.approx(float(recipe.developed))
    for joint in recipe.joints:
        under = (float(joint - recipe.sleeve / 2), float(joint + recipe.sleeve / 2))
        bent = [pull for pull in recipe.pulled if pull.start < under[1] - 1e-6 and pull.end > under[0] + 1e-6]
        assert not bent, "the ends stay straight under the sleeve"
    if recipe.sticks == 1:
        assert recipe.marks == replace(recipe, sleeve=Decimal(0)).marks


def test_a_metric_hoop_of_two_6_m_sticks_with_an_inner_sleeve():
    """First mark half a sleeve and half a pitch in, (300 + 500) / 2 = 400: the pulls bend up to the sleeve.

    Marks at 400, 900, ..., 5,400; 5,900 is left off. 11 pulls of 500 a stick bend 150 to 5,650 of it.
    """
    recipe = BendRecipe(
        Decimal(6000), 2, Decimal(0), Decimal(4400), Decimal(400), Decimal(500), Decimal(25), sleeve=Decimal(300)
    )
    assert recipe.developed == 12_000
    assert (recipe.marks[0], recipe.marks[-1], recipe.pulls) == (400, 5400, 11)
    assert recipe.left_off == [(Decimal(5900), LeftOff.SLEEVE)]
    assert recipe.stretches == ((150.0, 5650.0), (6150.0, 11650.0))
    check(recipe)
    # By hand: two arcs of 5,500 at 4,400, 1.25 rad each, with 150 straight before, 500 between and 350 after them.
    chord = 2 * 4400 * math.sin(0.625)
    ends = 150 * cmath.exp(1.25j) + chord * cmath.exp(0.625j) + 500 + chord * cmath.exp(-0.625j)
    ends += 350 * cmath.exp(-1.25j)
    assert recipe.hoop.span == pytest.approx(abs(ends), abs=0.01)


def test_an_imperial_hoop_of_plain_conduit_with_a_first_mark_too_near_the_sleeve():
    """A sleeve of 10 in and pulls of 18 keep 14 in clear at either end of a stick: 9 and 117 go, 27 to 99 stay."""
    recipe = BendRecipe(INCH * 120, 2, Decimal(0), INCH * 79, INCH * 9, INCH * 18, INCH, sleeve=INCH * 10)
    assert recipe.clear == 14 * INCH
    assert [mark / INCH for mark in recipe.marks] == [27, 45, 63, 81, 99]
    assert recipe.left_off == [(9 * INCH, LeftOff.SLEEVE), (117 * INCH, LeftOff.SLEEVE)]
    check(recipe)


@pytest.mark.parametrize(
    ("sleeve", "insertion", "part"),
    [(0, 0, ""), (100, 50, "insertion"), (-1, 0, "sleeve_length"), (3000, 0, "sleeve_length")],
)
def test_a_sleeve_that_joins_nothing_makes_no_hoop(sleeve, insertion, part):
    def made():
        sizes = (3000, 2, insertion, 2000, 400, 400)
        stick, sticks, *rest = sizes
        return BendRecipe(Decimal(stick), sticks, *map(Decimal, rest), sleeve=Decimal(sleeve))

    if not part:
        assert made().developed == 6000
        return
    with pytest.raises(GeometryError) as refused:
        made()
    assert refused.value.part == part


def test_two_6_m_sticks_on_2400():
    """Every pull of a pitch would turn 188 degrees and make a span of about 4.51 m; the legs take part pulls instead.

    Marks at 250 every 500 with 120 of insertion: the pulls at 2,250 of the first stick and 3,750 of the second are
    stopped at what is left of the half circle: (pi x 2,400 - 6,880) / 2 = 329.9 of their 500.
    """
    recipe = BendRecipe(Decimal(6000), 2, Decimal(120), Decimal(2400), Decimal(250), Decimal(500), Decimal(25))
    whole = stand(11_880, 2400, [(2000, 9880)])
    assert math.degrees(7880 / 2400) == pytest.approx(188.1, abs=0.05)
    assert whole[0] == pytest.approx(4505, abs=1)
    assert recipe.pulls_in_hoop == 16
    parts = [pull for pull in recipe.pulled if pull.part]
    assert [(pull.stick, pull.number, pull.at) for pull in parts] == [(1, 5, 2250), (2, 8, 3750)]
    assert [pull.length for pull in parts] == pytest.approx([(math.pi * 2400 - 6880) / 2] * 2)
    check(recipe)
    # The flats of 85 mm inside the part pulls, 7.88 degrees off upright, widen the 4,800 of the half circle.
    flat, turn = (500 - parts[0].length) / 2, parts[0].length / 2400
    assert recipe.hoop.span == pytest.approx(4800 + 2 * flat * math.sin(turn), abs=1)
    assert recipe.hoop.span == pytest.approx(4823.3, abs=0.1)


def test_the_half_circle_of_the_12_ft_recipe():
    """At 17 in the seven marks of each stick bend all but 1 in of 236 in: 170.4 of the arc's 171.2 degrees."""
    recipe = BendRecipe(INCH * 120, 2, INCH * 4, INCH * 79, INCH * 9, INCH * 17, INCH)
    assert recipe.pulls_in_hoop == 14
    assert math.fsum(map(recipe.degrees_of, recipe.pulled)) == pytest.approx(math.degrees(235 / 79))
    check(recipe)
    assert recipe.hoop.span / 25.4 == pytest.approx(157.533, abs=0.002)


def test_what_is_shown_is_less_than_a_millimetre_off_what_is_bent():
    """Spans, rises and legs as a page writes them, read again, in both units; feet and inches go to the sixteenth."""
    recipe = BendRecipe(INCH * 120, 3, INCH * 4, INCH * 131, INCH * 9, INCH * 18, INCH)
    span, rise, _ = stand(float(recipe.developed), float(recipe.radius), sheet(recipe, float(recipe.radius)))
    for shown, bent in ((recipe.hoop.span, span), (recipe.hoop.rise, rise), (recipe.hoop.legs[1], 12 * 25.4)):
        for system, unit in ((UnitSystem.IMPERIAL, Unit.INCH), (UnitSystem.METRIC, Unit.MILLIMETRE)):
            text = format_length(Decimal(repr(round(shown, 6))), system)
            assert float(parse_length(text, unit)) == pytest.approx(bent, abs=1)


@given(st.data())
def test_springing_in_follows_the_shape_as_bent(data):
    """Castigliano's integral of y squared, summed over the walked points; the moment is greatest at the crown."""
    recipe = data.draw(recipes("imperial"))
    assume(recipe.hoop.half_angle > 0.2 and recipe.hoop.span > 500)
    _, rise, points = stand(float(recipe.developed), float(recipe.radius), sheet(recipe, float(recipe.radius)))
    heights, lengths = (points.imag[1:] + points.imag[:-1]) / 2, abs(np.diff(points))
    give = float((heights**2 * lengths).sum())
    tube = TUBES["rail-1-3-8"]
    sprung = spring_in(recipe.hoop, tube, 100)
    force = 100 * tube.e_mpa * tube.second_moment / give
    assert sprung.force == pytest.approx(force, rel=0.01)
    assert sprung.stress == pytest.approx(force * rise / tube.section_modulus, rel=0.01)
