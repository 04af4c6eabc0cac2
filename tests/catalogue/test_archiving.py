"""Archived materials: what has them keeps them, nothing new is offered them, and they come back."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.catalogue.forms import OfferForm
from farmbuild.catalogue.models import Material, Offer
from farmbuild.hoops.recipes.forms import RecipeForm
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.services import prepare_starter
from farmbuild.sites.starters import starter_named, starter_values
from tests.factories import HouseFactory, MaterialFactory, OfferFactory, OrganisationFactory, RecipeFactory
from tests.reading import text_of
from tests.sites.posting import edit_data

pytestmark = pytest.mark.django_db


@pytest.fixture
def hinge(organisation) -> Material:
    return MaterialFactory(organisation=organisation, code="hinge", name="Tee hinge", kind="hardware")


def press(client, code: str, what: str = "archive"):
    return client.post(reverse(f"catalogue:material-{what}", args=[code]), follow=True)


def test_it_goes_from_the_list_and_comes_back(signed_in, hinge):
    assert "Tee hinge is archived." in text_of(press(signed_in, "hinge"))
    first = Material.objects.get(pk=hinge.pk).archived_at
    press(signed_in, "hinge")
    assert Material.objects.get(pk=hinge.pk).archived_at == first is not None
    materials = reverse("catalogue:materials")
    assert "Tee hinge" not in text_of(signed_in.get(materials))
    assert "Tee hinge" in text_of(signed_in.get(materials + "?archived=1"))
    assert "Archived since" in text_of(signed_in.get(reverse("catalogue:material-sizes", args=["hinge"])))
    assert "Tee hinge is back." in text_of(press(signed_in, "hinge", "bring-back"))
    press(signed_in, "hinge", "bring-back")
    assert Material.objects.get(pk=hinge.pk).archived_at is None
    assert "No material is archived." in text_of(signed_in.get(materials + "?archived=1"))


def test_of_another_organisation_it_is_not_found(signed_in):
    theirs = MaterialFactory(organisation=OrganisationFactory(), code="theirs")
    for what in ("archive", "bring-back"):
        assert signed_in.get(reverse(f"catalogue:material-{what}", args=["theirs"])).status_code == 405
        assert press(signed_in, "theirs", what).status_code == 404
    theirs.refresh_from_db()
    assert theirs.archived_at is None


def offered(form, name):
    """Keys that can be chosen there."""
    return {getattr(value, "value", value) for value, _ in form.fields[name].choices}


def test_nothing_new_is_offered_it(signed_in, organisation, hinge):
    rail = RecipeFactory(organisation=organisation).tube
    for material in (hinge, rail):
        press(signed_in, material.code)
    for form, name, material in (
        (HouseForm, "hinge_material", hinge),
        (HouseForm, "post_material", rail),
        (OfferForm, "material", hinge),
        (RecipeForm, "tube", rail),
    ):
        assert material.pk not in offered(form(organisation=organisation), name)
        press(signed_in, material.code, "bring-back")
        assert material.pk in offered(form(organisation=organisation), name)
        press(signed_in, material.code)


def test_what_has_it_keeps_it(signed_in, organisation, hinge):
    offer, recipe = OfferFactory(organisation=organisation, material=hinge), RecipeFactory(organisation=organisation)
    for material in (hinge, recipe.tube):
        press(signed_in, material.code)
    offer = Offer.objects.get(pk=offer.pk)
    assert hinge in OfferForm(instance=offer, organisation=organisation).fields["material"].queryset
    recipe.refresh_from_db()
    assert recipe.tube in RecipeForm(instance=recipe, organisation=organisation).fields["tube"].queryset


def test_a_house_with_an_archived_part_says_so_at_the_field_and_loses_nothing(signed_in, organisation, hinge):
    house = HouseFactory(site__organisation=organisation, hinge_material=hinge)
    Material.objects.filter(pk=hinge.pk).update(name="Tee <6>")
    press(signed_in, "hinge")
    edit = reverse("sites:house-edit", args=[house.slug])
    page = signed_in.get(edit)
    assert "Tee &lt;6&gt; is archived. The house keeps it until you choose another." in page.content.decode()
    sent = edit_data(signed_in, house)
    assert sent["hinge_material"] == str(hinge.pk)
    assert signed_in.post(edit, sent).status_code == 302
    house.refresh_from_db()
    assert house.hinge_material == hinge


def test_archived_while_a_form_was_open_it_is_refused_at_its_field_and_nothing_typed_is_lost(
    signed_in, organisation, hinge
):
    house = HouseFactory(site__organisation=organisation)
    sent = edit_data(signed_in, house) | {"hinge_material": str(hinge.pk), "hinges_per_door": "2", "name": "Typed"}
    press(signed_in, "hinge")
    page = signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent)
    form = page.context["form"]
    assert form.errors["hinge_material"] == ["This choice is not on the list any more. Choose one from the list."]
    assert (form["hinges_per_door"].value(), form["name"].value()) == ("2", "Typed")
    house.refresh_from_db()
    assert house.hinge_material is None


def test_a_starter_brings_back_what_it_uses(signed_in, organisation, user):
    starter = starter_named("12-ft-house")
    prepare_starter(organisation=organisation, user=user, starter=starter)
    press(signed_in, "door-hinge")
    assert starter_values(organisation=organisation, starter=starter) is None
    values = prepare_starter(organisation=organisation, user=user, starter=starter)
    assert (values["hinge_material"].code, values["hinge_material"].archived_at) == ("door-hinge", None)


def test_the_shipped_materials_leave_an_archived_one_as_it_is(signed_in, organisation):
    signed_in.post(reverse("catalogue:add-starting"))
    press(signed_in, "door-hinge")
    signed_in.post(reverse("catalogue:add-starting"))
    (row,) = Material.objects.of(organisation).filter(code="door-hinge")
    assert row.archived_at is not None
