"""The shipped starters can be built, and their geometry agrees with common practice."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.catalogue.models import Material
from farmbuild.hoops.recipes.bridge import bend_recipe_of
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.services import archive_recipe
from farmbuild.sites.bridge import shape_of, spec_problems
from farmbuild.sites.services import prepare_starter
from farmbuild.sites.starters import starter_house, starter_named, starter_values, starters
from tests.factories import MaterialFactory, OrganisationFactory

FOOT, INCH = Decimal("304.8"), Decimal("25.4")


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("starter", starters(), ids=lambda starter: starter.slug)
def test_nothing_keeps_a_starter_from_being_built(starter, units):
    assert spec_problems(starter_house(starter), units) == []


@pytest.mark.parametrize(
    ("slug", "sticks", "span"),
    [("low-tunnel-3-4", 1, 6), ("low-tunnel-1-2", 1, 6), ("12-ft-house", 2, 12), ("20-ft-house", 3, 20)],
)
def test_sticks_make_the_span_of_common_practice(slug, sticks, span):
    """One 10 ft conduit stick makes a 6 ft hoop, two of rail a 12 ft one, three a 20 ft one (common practice)."""
    house = starter_house(starter_named(slug))
    assert house.recipe.sticks == sticks
    assert house.recipe.stick_length == 10 * FOOT
    assert house.post_span == span * FOOT
    free = Decimal(repr(bend_recipe_of(house.recipe).hoop.span))
    # Free hoops stand wider than their posts, by less than 2 ft in all.
    assert house.post_span < free < house.post_span + 2 * FOOT


def test_a_12_ft_hoop_is_sprung_in_by_12_to_24_inches():
    """Common practice, no source."""
    shape = shape_of(starter_house(starter_named("12-ft-house")))
    assert 12 * INCH <= shape.spring_in <= 24 * INCH


def test_marks_of_the_12_ft_hoop_are_those_of_the_trade():
    """9, 27, 45, 63, 81, 99, 117 in on a 10 ft stick (common practice, no source)."""
    marks = bend_recipe_of(starter_house(starter_named("12-ft-house")).recipe).marks
    assert marks == [INCH * n for n in (9, 27, 45, 63, 81, 99, 117)]


def test_values_need_the_rows_of_the_organisation(organisation, user):
    starter = starter_named("12-ft-house")
    assert starter_values(organisation=organisation, starter=starter) is None
    values = prepare_starter(organisation=organisation, user=user, starter=starter)
    assert values["recipe"].organisation == organisation
    assert values["film_material"].code == "film-6mil-24ft"
    assert values["length"] == 48 * FOOT
    assert {row.code for row in Material.objects.of(organisation)} == set(starter.materials)


def test_what_the_organisation_has_already_is_kept(organisation, user):
    own = MaterialFactory(organisation=organisation, code="rail-1-3-8", name="Our own rail")
    MaterialFactory(organisation=OrganisationFactory(), code="rail-1-5-8")
    for _ in range(2):
        values = prepare_starter(organisation=organisation, user=user, starter=starter_named("12-ft-house"))
    assert values["purlin_material"] == own
    assert values["post_material"].organisation == organisation
    assert Recipe.objects.of(organisation).count() == 1
    assert Material.objects.of(organisation).filter(code="rail-1-3-8").count() == 1


def test_an_archived_recipe_comes_back_with_its_starter(organisation, user):
    starter = starter_named("12-ft-house")
    recipe = prepare_starter(organisation=organisation, user=user, starter=starter)["recipe"]
    archive_recipe(organisation=organisation, user=user, recipe=recipe)
    prepare_starter(organisation=organisation, user=user, starter=starter)
    assert Recipe.objects.get().archived_at is None
