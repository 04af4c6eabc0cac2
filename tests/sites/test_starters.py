"""The shipped starters can be built, and their geometry agrees with common practice."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.catalogue.models import Material
from farmbuild.hoops.recipes.bridge import bend_recipe_of
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.hoops.recipes.services import archive_recipe
from farmbuild.sites.bridge import shape_of, spec_input, spec_problems, spec_remarks_of, take_off_of
from farmbuild.sites.models import Site
from farmbuild.sites.services import prepare_starter
from farmbuild.sites.starters import starter_house, starter_named, starter_values, starters
from tests.factories import MaterialFactory, OrganisationFactory

FOOT, INCH = Decimal("304.8"), Decimal("25.4")
#: All but the blank ones, which have no hoop yet.
BUILT = [starter for starter in starters() if starter.recipe]


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("starter", BUILT, ids=lambda starter: starter.slug)
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


@pytest.mark.parametrize("slug", ["12-ft-house", "20-ft-house"])
def test_a_hoop_of_rail_is_sprung_in_by_12_to_24_inches(slug):
    """Common practice, no source."""
    shape = shape_of(starter_house(starter_named(slug)))
    assert 12 * INCH <= shape.spring_in <= 24 * INCH


def test_every_mark_of_a_shipped_hoop_is_made():
    """9 in and every 17 in: seven on a 10 ft stick, the last with 9 in of pipe past it, clear of the 4 in joint.

    The common 18 in (no source) would put the last one 3 in from the end, inside the joint.
    """
    for slug in ("12-ft-house", "20-ft-house", "low-tunnel-3-4", "low-tunnel-1-2"):
        bend = bend_recipe_of(starter_house(starter_named(slug)).recipe)
        assert bend.marks == [INCH * n for n in (9, 26, 43, 60, 77, 94, 111)]
        assert bend.left_off == []


@pytest.mark.parametrize("starter", BUILT, ids=lambda starter: starter.slug)
def test_no_shipped_hoop_stays_bent(starter):
    assert not [words for _, words in spec_remarks_of(starter_house(starter), "imperial") if "stay" in words]


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


def test_who_started_when_there_were_fewer_materials_gets_the_rest_and_keeps_the_recipe(organisation, user):
    starter = starter_named("20-ft-house")
    recipe = prepare_starter(organisation=organisation, user=user, starter=starter)["recipe"]
    Recipe.objects.filter(pk=recipe.pk).update(name="Our hoop", pitch=17 * INCH)
    Material.objects.filter(code__in=["cross-connector", "door-hinge"]).delete()
    Material.objects.filter(code="brace-clamp").update(name="Our clamp")
    assert starter_values(organisation=organisation, starter=starter) is None
    values = prepare_starter(organisation=organisation, user=user, starter=starter)
    assert (values["recipe"].pk, values["recipe"].name, values["recipe"].pitch) == (recipe.pk, "Our hoop", 17 * INCH)
    assert Recipe.objects.of(organisation).count() == 1
    assert values["purlin_connector_material"].note.endswith("take the size of your pipe.")
    assert values["brace_clamp_material"].name == "Our clamp"


def joined_purlins(spec) -> int:
    """Purlins that are longer than one stick."""
    return spec.ridge_purlins + spec.side_purlins if spec.length > spec.purlin_stick_length else 0


#: What each fitting is for: the house has it where this is there.
FITTINGS = {
    "purlin_connector_material": lambda spec: spec.ridge_purlins + spec.side_purlins,
    "post_fastener_material": lambda spec: spec.post_material,
    "brace_clamp_material": lambda spec: spec.brace_count,
    "end_screw_material": lambda spec: spec.end_walls,
    "door_latch_material": lambda spec: spec.front_door_count + spec.back_door_count,
    "hinge_material": lambda spec: spec.front_door_count + spec.back_door_count,
    "door_stop_material": lambda spec: spec.front_door_count + spec.back_door_count,
    "door_skin_material": lambda spec: spec.front_door_count + spec.back_door_count,
    # The shipped channel is sold with its wire.
    "wire_material": lambda spec: spec.channel_material and spec.channel_material != "fixing-channel",
    "channel_screw_material": lambda spec: spec.channel_runs or spec.channel_on_ends,
    "fan_material": lambda spec: spec.film_layers == 2,
    "hose_material": lambda spec: spec.film_layers == 2,
    "screw_material": lambda spec: spec.recipe.sticks > 1 or joined_purlins(spec),
    "tape_material": lambda spec: spec.recipe.sticks > 1 or joined_purlins(spec),
    "anchor_tie_material": lambda spec: spec.anchor_count,
}


@pytest.mark.parametrize("units", ["imperial", "metric"])
@pytest.mark.parametrize("starter", BUILT, ids=lambda starter: starter.slug)
def test_a_starter_orders_every_fitting_that_it_has_a_use_for(starter, units):
    """And nothing else; each has a row with a quantity, and a material that says where it comes from."""
    house = starter_house(starter)
    house.site = Site(name="North", slug="north")
    spec = spec_input(house)
    bought = {row.material for row in take_off_of(house, units) if row.quantity > 0}
    for field, use in FITTINGS.items():
        code = getattr(spec, field)
        assert bool(code) == bool(use(spec)), field
        if code:
            assert code in bought, field
            assert "no source" in starter.materials[code]["note"] or "from memory" in starter.materials[code]["note"]
    # Another film for the doors alone would be a roll more.
    assert spec.door_skin_material in ("", spec.film_material)
    assert not [message for _, message in spec_remarks_of(house, units) if "Not bought" in message]


def test_the_20_ft_starter_by_hand():
    """72 ft: 72 / 4 + 1 = 19 hoops, 3 purlins, 4 braces, 3 doors, 8 anchors.

    Joints: 19 x 2 in hoops, (864 - 4) / (252 - 4) up to 4 sticks and 3 joints in each of 3 purlins: 47, one roll.
    """
    house = starter_house(starter_named("20-ft-house"))
    house.site = Site(name="North", slug="north")
    found = {row.purpose: row.quantity for row in take_off_of(house, "imperial") if row.unit == "each"}
    assert {name: found[name] for name in ("purlin connectors", "hoop-to-post fasteners", "brace clamps")} == {
        "purlin connectors": 57,
        "hoop-to-post fasteners": 38,
        "brace clamps": 8,
    }
    assert (found["door hinges"], found["door stops"], found["door latches"]) == (9, 3, 3)
    assert (found["joint screws"], found["joint tape"], found["anchor ties"]) == (47, 1, 8)


def test_an_archived_recipe_comes_back_with_its_starter(organisation, user):
    starter = starter_named("12-ft-house")
    recipe = prepare_starter(organisation=organisation, user=user, starter=starter)["recipe"]
    archive_recipe(organisation=organisation, user=user, recipe=recipe)
    prepare_starter(organisation=organisation, user=user, starter=starter)
    assert Recipe.objects.get().archived_at is None


@pytest.mark.parametrize("starter", BUILT, ids=lambda starter: starter.slug)
def test_the_film_of_a_starter_reaches_the_ground_and_is_buried(starter):
    """Its ends stand as far out as the posts less the socket; 6 in or more run on (common practice, no source)."""
    house = starter_house(starter)
    out = house.post_length - house.post_depth - house.post_socket_depth
    assert house.side_closing == "buried" and out > 0
    assert house.film_side_allowance >= out + 6 * INCH
    told = {name for name, message in spec_remarks_of(house, "imperial")}
    assert not told & {"side_closing", "film_side_allowance", "post_material", "post_socket_depth"}


def test_the_20_ft_starter_takes_the_40_ft_roll():
    """3 x 10 ft less 2 x 4 in is 29' 4" of hoop; with 2 x 42 in to spare it is 36' 4"."""
    house = starter_house(starter_named("20-ft-house"))
    assert shape_of(house).developed + 2 * house.film_side_allowance == 36 * FOOT + 4 * INCH
    assert house.film_material.width == 40 * FOOT
