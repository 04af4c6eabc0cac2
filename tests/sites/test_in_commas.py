"""Pages of a farm in euros with a decimal comma: what they show and what is typed is what is stored."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.forms import model_to_dict
from django.urls import reverse

from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starters_in
from tests.factories import LotFactory, MaterialFactory, OfferFactory, SiteFactory, SupplierFactory
from tests.season.visitor import Page, _filled


@pytest.fixture
def farm(organisation):
    organisation.unit_system, organisation.decimal_sign, organisation.currency = "metric", ",", "EUR"
    organisation.tax_percent, organisation.kerf = Decimal("8.25"), Decimal("2.5")
    organisation.save()
    return organisation


@pytest.fixture
def house(farm, user):
    starter = next(one for one in starters_in(units="metric") if one.slug.startswith("5-m"))
    return create_house(
        organisation=farm,
        user=user,
        site=SiteFactory(organisation=farm),
        name="Feld 2",
        need_date=date(2027, 5, 3),
        data=prepare_starter(organisation=farm, user=user, starter=starter)
        | {"hip_board_lengths": ["3900.500000", "4800.000000"]},
    )


@pytest.fixture
def rows(farm, house):
    """Rows with numbers that a comma and a point write differently, by the page that edits each."""
    tube = MaterialFactory(
        organisation=farm, kind="tube", width=Decimal("33.7"), thickness=Decimal("2.6"), yield_mpa=Decimal("235.5")
    )
    supplier = SupplierFactory(organisation=farm, delivery_charge=Decimal("49.5"), minimum_order=Decimal("1250.75"))
    offer = OfferFactory(organisation=farm, material=tube, supplier=supplier, length=Decimal("5999.5"), pack=1200)
    offer.breaks.all().delete()
    offer.breaks.create(from_quantity=1, unit_price=Decimal("1234.5675"))
    lot = LotFactory(organisation=farm, material=tube, length=Decimal("5999.5"), unit_cost=Decimal("1200.0855"))
    return {
        "organisation": (farm, reverse("orgs:organisation")),
        "house": (house, reverse("sites:house-edit", args=[house.slug])),
        "recipe": (house.recipe, reverse("hoops:recipe-edit", args=[house.recipe.slug])),
        "material": (tube, reverse("catalogue:material", args=[tube.code])),
        "supplier": (supplier, reverse("catalogue:supplier-edit", args=[supplier.code])),
        "offer": (offer, reverse("catalogue:offer", args=[supplier.code, offer.pk])),
        "lot": (lot, reverse("stock:lot-edit", args=[lot.pk])),
    }


def filled(client, address: str) -> dict[str, Any]:
    page = Page(address, client.get(address).content.decode())
    form = next(form for form in page.root.all("form") if "sheet" in form.get("class") and form.get("method") == "post")
    return _filled(form)


def stored(row) -> dict[str, Any]:
    row.refresh_from_db()
    prices = list(row.breaks.values_list("from_quantity", "unit_price")) if hasattr(row, "breaks") else []
    return model_to_dict(row) | {"prices": prices}


@pytest.mark.parametrize("name", ["organisation", "house", "recipe", "material", "supplier", "offer", "lot"])
def test_what_a_page_shows_is_saved_again_unchanged(signed_in, rows, name):
    row, address = rows[name]
    before, data = stored(row), filled(signed_in, address)
    assert any("," in str(value) for value in data.values())
    answer = signed_in.post(address, data)
    assert answer.status_code == 302, answer.context["form"].errors
    assert stored(row) == before


@pytest.mark.parametrize(
    "name, typed, column, value",
    [
        ("organisation", {"tax_percent": "19,6"}, "tax_percent", Decimal("19.6")),
        ("organisation", {"kerf": "2,5"}, "kerf", Decimal("2.5")),
        ("house", {"length": "12,5"}, "length", Decimal(12_500)),
        ("house", {"hip_board_lengths": "3,9 m; 4800"}, "hip_board_lengths", ["3900.000000", "4800.000000"]),
        ("material", {"thickness": "2,9"}, "thickness", Decimal("2.9")),
        ("material", {"yield_mpa": "1 200,5"}, "yield_mpa", Decimal("1200.5")),
        ("supplier", {"minimum_order": "1.234,56"}, "minimum_order", Decimal("1234.56")),
        ("offer", {"prices-0-unit_price": "1.234,56"}, "prices", [(1, Decimal("1234.56"))]),
        ("offer", {"pack": "1.200"}, "pack", 1200),
        ("lot", {"unit_cost": "999,123", "reason": "a bill"}, "unit_cost", Decimal("999.123")),
    ],
)
def test_what_is_typed_with_a_comma_is_stored(signed_in, rows, name, typed, column, value):
    row, address = rows[name]
    answer = signed_in.post(address, filled(signed_in, address) | typed)
    assert answer.status_code == 302, answer.context["form"].errors
    assert stored(row)[column] == value


@pytest.mark.parametrize(
    "name, typed, field, words",
    [
        ("organisation", {"tax_percent": "8.25"}, "tax_percent", "If you mean 8,25"),
        ("house", {"length": "12.500"}, "length", "could be 12500 or 12,500"),
        ("house", {"hip_board_lengths": "3,9, 4,8"}, "hip_board_lengths", "could be one length or several"),
        ("house", {"hip_board_lengths": "4800 m"}, "hip_board_lengths", "Did you mean 4800 mm?"),
        ("recipe", {"stick_length": "6000 m"}, "stick_length", "Did you mean 6000 mm?"),
        ("offer", {"length": "6000 m"}, "length", "Did you mean 6000 mm?"),
        ("offer", {"pack": "2,5"}, "pack", "Type a whole number"),
        ("offer", {"pack": "1,200"}, "pack", "could be 1,200 or 1200"),
        ("lot", {"unit_cost": "3.750"}, "unit_cost", "could be 3750 or 3,750"),
        ("lot", {"unit_cost": "12.50"}, "unit_cost", "If you mean 12,50"),
    ],
)
def test_what_could_be_another_number_is_refused_and_nothing_is_stored(signed_in, rows, name, typed, field, words):
    row, address = rows[name]
    before = stored(row)
    answer = signed_in.post(address, filled(signed_in, address) | typed)
    assert answer.status_code == 200
    assert words in " ".join(answer.context["form"].errors[field])
    assert stored(row) == before
    # Nothing that was typed is lost.
    shown = filled_again(answer)
    assert {name: shown[name] for name in typed} == typed


def filled_again(answer) -> dict[str, Any]:
    page = Page("", answer.content.decode())
    return _filled(next(form for form in page.root.all("form") if "sheet" in form.get("class")))
