"""Houses of two sites may have one name: whoever chooses a house sees its site beside it, in every form."""

from __future__ import annotations

import importlib
import pkgutil

import pytest
from django import forms

import farmbuild
from farmbuild.plans.forms import HousesField
from farmbuild.sites.house_choice import HouseChoiceField
from farmbuild.sites.models import House
from tests.factories import BenderFactory, HouseFactory, LotFactory, RecipeFactory, SiteFactory
from tests.reading import text_of

#: Ticks stand under their site; a box a house says it in words.
BY_SITE = (HousesField, HouseChoiceField)


def every_form() -> set[type[forms.BaseForm]]:
    for module in pkgutil.walk_packages(farmbuild.__path__, "farmbuild."):
        if "form" in module.name.rpartition(".")[2]:
            importlib.import_module(module.name)
    found: set[type[forms.BaseForm]] = set()
    waiting = [forms.BaseForm]
    while waiting:
        kinds = [kind for kind in waiting.pop().__subclasses__() if kind not in found]
        found.update(kinds)
        waiting += kinds
    return {kind for kind in found if kind.__module__.startswith("farmbuild.")}


def test_every_choice_of_a_house_has_its_site():
    choices = [
        (f"{kind.__name__}.{name}", field)
        for kind in every_form()
        for name, field in getattr(kind, "base_fields", {}).items()
        if isinstance(field, forms.ModelChoiceField) and field.queryset.model is House
    ]
    assert {"IssueForm.house", "TimeForm.house", "MoveForm.house"} <= {name for name, _ in choices}
    assert [name for name, field in choices if not isinstance(field, BY_SITE)] == []


@pytest.mark.django_db
def test_houses_of_one_name_are_told_apart(signed_in, organisation):
    recipe = RecipeFactory(organisation=organisation)
    for name in ("Upper field", "River bank"):
        site = SiteFactory(organisation=organisation, name=name)
        HouseFactory(organisation=organisation, site=site, name="North 1", recipe=recipe)
    BenderFactory(organisation=organisation)
    lot = LotFactory(organisation=organisation, on_hand=10)
    for address, before in (
        (f"/stock/lots/{lot.pk}/issue/", ""),
        (f"/stock/lots/{lot.pk}/return/", ""),
        (f"/stock/lots/{lot.pk}/move/", ""),
        (f"/stock/lots/{lot.pk}/cut/", ""),
        ("/costs/time/new/", ""),
        (f"/hoops/batches/new/?recipe={recipe.slug}", "Hoops for "),
    ):
        said = text_of(signed_in.get(address))
        for name in ("Upper field", "River bank"):
            assert f"{before}North 1, {name}</" in said, address
