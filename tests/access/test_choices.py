"""What a form offers to choose from is of its organisation alone; anything else is refused as no choice of the list."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator

import pytest
from django import forms

import farmbuild
from farmbuild.common.forms import OrgFormMixin
from farmbuild.stock.ledger_forms import LedgerFilter
from tests.factories import MaterialFactory, OrganisationFactory

#: These narrow their rows by what they are given, and why they take no organisation.
NARROWED = {
    "WeeklyForm": "the organisations of a person are to choose from",
    "BehalfForm": "is that of a customer, who belongs to none, with the sites of the organisation",
}


def form_classes(of: type = forms.BaseForm) -> Iterator[type]:
    for each in of.__subclasses__():
        if each.__module__.startswith("farmbuild."):
            yield each
        yield from form_classes(each)


def test_every_form_with_rows_to_choose_from_narrows_them_to_the_organisation():
    for module in pkgutil.walk_packages(farmbuild.__path__, "farmbuild."):
        if "forms" in module.name.rsplit(".", 1)[-1] or module.name.endswith(("_form", "views")):
            importlib.import_module(module.name)
    with_rows = {
        each
        for each in form_classes()
        if any(isinstance(field, forms.ModelChoiceField) for field in each.base_fields.values())
    }
    assert len(with_rows) > 20
    assert {each.__qualname__ for each in with_rows if not issubclass(each, OrgFormMixin)} == NARROWED.keys()
    nothing = {each for each in with_rows if each.__qualname__ in NARROWED}
    fields = [one for each in nothing for one in each.base_fields.values() if isinstance(one, forms.ModelChoiceField)]
    assert all(field.queryset.query.is_empty() for field in fields), "before they are narrowed there is nothing"


@pytest.mark.django_db
def test_a_row_of_another_organisation_is_no_choice(organisation):
    theirs = MaterialFactory(organisation=OrganisationFactory())
    form = LedgerFilter({"material": theirs.pk}, organisation=organisation)
    assert not form.is_valid()
    assert form.errors["material"] == ["This choice is not on the list any more. Choose one from the list."]
