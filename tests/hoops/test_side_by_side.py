"""Hoops of recipes stand beside each other to one scale, before their table."""

from __future__ import annotations

import re

import pytest

from farmbuild.hoops.recipes.bridge import free_span
from farmbuild.hoops.recipes.side_by_side import MOST, WIDEST, side_by_side
from tests.factories import FOOT, INCH, RecipeFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def wide(svg: str) -> float:
    return float(re.search(r'width="([\d.]+)rem"', svg)[1])


def test_they_are_as_wide_as_their_spans(organisation):
    small = RecipeFactory(organisation=organisation, radius=INCH * 79)
    large = RecipeFactory(organisation=organisation, radius=INCH * 131, sticks=3)
    none = RecipeFactory(organisation=organisation, first_mark=FOOT * 11)
    found = side_by_side([small, none, large])
    assert [recipe for recipe, _, _ in found] == [small, large], "one makes no hoop"
    assert wide(found[1][1]) == WIDEST
    assert wide(found[0][1]) == pytest.approx(WIDEST * float(free_span(small) / free_span(large)), abs=0.01)
    assert found[0][2].startswith("13'")
    assert len(side_by_side([small] * (MOST + 3))) == MOST


def test_the_list_shows_them_each_as_a_way_to_its_recipe(signed_in, organisation):
    recipe = RecipeFactory(organisation=organisation, name="Low", radius=INCH * 79)
    page = text_of(signed_in.get("/hoops/"))
    assert page.index("hoops-beside") < page.index("<table")
    assert f'<a href="{recipe.get_absolute_url()}" aria-label="Low, 13' in page
