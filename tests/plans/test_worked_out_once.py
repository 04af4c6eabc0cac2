"""What is kept of houses between pages is told anew as soon as anything that it rests on changes."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.crew.bridge import work_counts
from farmbuild.measure import NumberStyle, use_style
from farmbuild.plans.balance import balances
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.selectors import any_house_of
from tests.factories import FOOT, LotFactory, OrganisationFactory
from tests.plans.small_season import small_season

pytestmark = pytest.mark.django_db
LONG = FOOT * 50_000


def balance_of(organisation, slug="north-1"):
    house = any_house_of(organisation=organisation).get(slug=slug)
    found = balances(organisation=organisation, houses=[house])[house.pk]
    assert balances(organisation=organisation, houses=[house], loaded=True)[house.pk] is found
    return found


def test_the_balance_follows_house_materials_and_organisation(organisation):
    season = small_season(organisation)
    house, rail = season.houses[0], season.houses[0].recipe.tube
    first = balance_of(organisation)
    house.length += FOOT * 16
    house.save()
    longer = balance_of(organisation)
    assert longer.pieces["needed"] > first.pieces["needed"]
    rail.yield_mpa = Decimal(345)
    rail.save()
    assert balance_of(organisation).materials["rail"].yield_mpa == 345
    rail.name = "Another rail"
    rail.save()
    assert balance_of(organisation).materials["rail"].name == "Another rail"
    organisation.kerf += 1
    organisation.save()
    assert balance_of(organisation) is not longer


def test_the_same_house_of_two_organisations(organisation):
    mine, other = small_season(organisation), small_season(OrganisationFactory())
    house = other.houses[0]
    house.recipe.tube.name = "Their rail"
    house.recipe.tube.save()
    assert balance_of(mine.organisation).materials["rail"].name == "1-3/8 rail"
    assert balance_of(other.organisation).materials["rail"].name == "Their rail"


def test_problems_and_work_are_said_in_the_units_and_numbers_of_the_reader(organisation):
    house = small_season(organisation).houses[0]
    house = any_house_of(organisation=organisation).get(pk=house.pk)
    assert spec_problems(house, "metric") == []
    feet, metres = (work_counts(house, units) for units in ("imperial", "metric"))
    assert {one.words for one in feet} != {one.words for one in metres}
    length, house.length = house.length, LONG
    point = spec_problems(house, "metric")
    with use_style(NumberStyle(",", ".")):
        comma = spec_problems(house, "metric")
    assert point and comma and spec_problems(house, "imperial") != point
    house.length = length
    assert spec_problems(house, "metric") == []


def test_a_lot_that_two_houses_name_is_one_material(organisation):
    season = small_season(organisation)
    LotFactory(material=season.houses[0].recipe.tube)
    one, other = any_house_of(organisation=organisation)
    assert one.post_material is other.post_material
    assert one.recipe.tube is other.recipe.tube
    assert (one.post_material.code, one.recipe.tube.code, one.hip_board_material) == ("post", "rail", None)
