"""Recipes are ruled in one place, which refuses exactly what the geometry cannot take."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.mechanics import GeometryError
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.recipes import bend_recipe, check_recipe
from farmbuild.planning.house.spec import Recipe
from tests.planning.seasons import BY_CODE, TWELVE, TWELVE_RECIPE
from tests.size import examples

SIZES = st.sampled_from([Decimal(n) for n in (0, 25, 26, 100, 101, 457, 458, 3048, 3049, 20_000)])


@st.composite
def recipes(draw: st.DrawFn) -> Recipe:
    lengths = ("stick_length", "insertion", "radius", "first_mark", "pitch", "stop_gap")
    changed = {name: draw(SIZES) for name in draw(st.sets(st.sampled_from(lengths), max_size=3))}
    return replace(TWELVE_RECIPE, sticks=draw(st.integers(0, 13)), **changed)


@examples(400)
@given(recipes())
def test_whatever_passes_makes_a_hoop_and_what_makes_none_is_refused(recipe: Recipe) -> None:
    refused = check_recipe(recipe, BY_CODE, UnitSystem.IMPERIAL)
    try:
        bend = bend_recipe(recipe)
    except GeometryError:
        event("no hoop")
        assert refused
        return
    event("refused" if refused else "passes")
    if not refused:
        assert bend.pulls >= 1 and bend.hoop.span > 0
    assert all(problem.field == "recipe" and hasattr(recipe, problem.part) for problem in refused)


@examples(200)
@given(recipes())
def test_a_house_refuses_a_recipe_in_the_words_of_the_recipe(recipe: Recipe) -> None:
    own = check_recipe(recipe, BY_CODE, UnitSystem.METRIC)
    of_house = check_spec(replace(TWELVE, recipe=recipe), BY_CODE, UnitSystem.METRIC)
    if own:
        assert [problem for problem in of_house if problem.part] == own


@pytest.mark.parametrize("missing", ["", "no-such"])
def test_a_recipe_of_no_known_tube_is_refused_at_its_tube(missing: str) -> None:
    (problem,) = check_recipe(replace(TWELVE_RECIPE, tube=missing), BY_CODE, UnitSystem.IMPERIAL)
    assert problem.part == "tube"
