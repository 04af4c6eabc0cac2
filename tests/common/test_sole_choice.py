"""A list of one choice is no question: it is chosen; with two, or where something was sent or stored, it is not."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.catalogue.models import Material
from farmbuild.crew.bookings.forms import BookingForm, RequestForm
from farmbuild.hoops.batches.new_batch import only_bender_for
from farmbuild.hoops.recipes.forms import RecipeForm
from farmbuild.sites.forms import HouseForm
from tests.factories import BenderFactory, MaterialFactory, RecipeFactory, SiteFactory

pytestmark = pytest.mark.django_db


def chosen(form, name: str) -> str:
    """What a browser would send of that list."""
    shown = form[name].subwidgets
    marked = [option.data["value"] for option in shown if option.data["selected"]]
    assert [option for option in shown if "selected" in option.data["attrs"]] == [
        option for option in shown if option.data["selected"]
    ]
    assert len(marked) <= 1
    return str(marked[0]) if marked else ""


@pytest.mark.parametrize(("form", "name"), [(BookingForm, "bender"), (RecipeForm, "bender"), (RequestForm, "bender")])
def test_a_single_bender_is_chosen_by_itself(organisation, form, name):
    assert chosen(form(organisation=organisation), name) == ""
    one = BenderFactory(organisation=organisation, name="One")
    BenderFactory(organisation=organisation, archived_at=timezone.now())
    assert chosen(form(organisation=organisation), name) == str(one.pk)
    assert chosen(form({name: ""}, organisation=organisation), name) == "", "sent empty, it stays so"
    BenderFactory(organisation=organisation, name="Two")
    assert chosen(form(organisation=organisation), name) == ""


def test_a_stored_recipe_without_a_bender_stays_without(organisation):
    BenderFactory(organisation=organisation, name="One")
    recipe = RecipeFactory(organisation=organisation, bender=None)
    assert chosen(RecipeForm(instance=recipe, organisation=organisation), "bender") == ""


def test_a_new_house_has_the_one_site_recipe_and_pipe(organisation):
    site = SiteFactory(organisation=organisation)
    recipe = RecipeFactory(organisation=organisation)
    form = HouseForm(organisation=organisation)
    assert chosen(form, "site") == str(site.pk)
    assert chosen(form, "recipe") == str(recipe.pk)
    RecipeFactory(organisation=organisation)
    assert chosen(HouseForm(organisation=organisation), "recipe") == ""


def test_a_batch_begins_with_the_one_recipe_and_the_one_bender_that_fits(signed_in, organisation):
    recipe = RecipeFactory(organisation=organisation, slug="field-hoop", bender=None)
    narrow, wide = (
        BenderFactory(organisation=organisation, name="Narrow"),
        BenderFactory(organisation=organisation, name="Wide"),
    )
    assert only_bender_for(recipe) is None
    other = MaterialFactory(organisation=organisation, kind=Material.Kind.TUBE)
    narrow.tubes.add(other)
    assert only_bender_for(recipe) == wide
    address = reverse("hoops:batch-new")
    begun = signed_in.get(address)
    assert begun["Location"] == f"{address}?recipe=field-hoop"
    assert chosen(signed_in.get(begun["Location"]).context["form"], "bender") == str(wide.pk)
    narrow.tubes.add(recipe.tube)
    assert chosen(signed_in.get(begun["Location"]).context["form"], "bender") == ""
    RecipeFactory(organisation=organisation)
    assert "Which recipe is bent?" in signed_in.get(address).content.decode()
