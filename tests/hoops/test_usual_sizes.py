"""What stands in new forms, and in rows made without them, is round in the organisation's units."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.hoops.batches.new_batch import first_values
from farmbuild.hoops.batches.services import create_batch
from farmbuild.hoops.recipes.forms import RecipeForm
from farmbuild.hoops.recipes.services import create_recipe
from farmbuild.sites.forms import HouseForm
from tests.factories import BenderFactory, MaterialFactory, OrganisationFactory, RecipeFactory

SIZES = {
    "imperial": {"first_mark": '9"', "pitch": '18"', "stop_gap": '1"', "lever_length": '36"'},
    "metric": {"first_mark": "225 mm", "pitch": "450 mm", "stop_gap": "25 mm", "lever_length": "900 mm"},
}


def values(form, names):
    return {
        name: form.fields[name].prepare_value(form.get_initial_for_field(form.fields[name], name)) for name in names
    }


@pytest.mark.parametrize("units", SIZES)
def test_a_new_recipe_starts_with_the_usual_sizes(user, organisation, units):
    organisation.unit_system = units
    organisation.save()
    assert values(RecipeForm(organisation=organisation), SIZES[units]) == SIZES[units]
    tube = MaterialFactory(organisation=organisation)
    made = create_recipe(
        organisation=organisation,
        user=user,
        data={"name": "Field", "tube": tube, "stick_length": Decimal(6000), "sticks": 1, "radius": Decimal(1500)},
    )
    assert values(RecipeForm(organisation=organisation, instance=made), SIZES[units]) == SIZES[units]


@pytest.mark.parametrize(("units", "clearance", "screws"), [("imperial", '1/4"', '24"'), ("metric", "6 mm", "600 mm")])
def test_a_new_house_starts_with_the_usual_sizes(db, units, clearance, screws):
    form = HouseForm(organisation=OrganisationFactory(unit_system=units))
    found = values(form, ("door_clearance", "channel_screw_spacing"))
    assert found == {"door_clearance": clearance, "channel_screw_spacing": screws}
    assert clearance.replace('"', " in") in form.fields["door_clearance"].help_text


@pytest.mark.parametrize(("units", "tolerance", "spring_in"), [("imperial", "50.8", "457.2"), ("metric", "50", "450")])
def test_a_new_batch_starts_with_the_usual_tolerances(user, organisation, units, tolerance, spring_in):
    organisation.unit_system = units
    organisation.save()
    recipe = RecipeFactory(organisation=organisation)
    batch = create_batch(
        organisation=organisation,
        user=user,
        recipe=recipe,
        bender=BenderFactory(organisation=organisation),
        quantity=2,
        shares={},
        data={"post_span": Decimal(3000)},
    )
    batch.refresh_from_db()
    assert {batch.span_tolerance, batch.rise_tolerance, batch.twist_tolerance} == {Decimal(tolerance)}
    assert batch.spring_in == Decimal(spring_in)
    assert first_values(recipe, [], None)["span_tolerance"] == Decimal(tolerance)
