"""Pages of the catalogue: what they store, what they refuse at the field, and whose rows they never show."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from tests.factories import FOOT, INCH, MaterialFactory, OfferFactory, OrganisationFactory, SupplierFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def prices(*pairs, rows=5):
    """The price rows of an offer as a browser sends them."""
    data = {"prices-TOTAL_FORMS": str(rows), "prices-INITIAL_FORMS": "1"}
    data |= {"prices-MIN_NUM_FORMS": "0", "prices-MAX_NUM_FORMS": "30"}
    for at in range(rows):
        amount, price = pairs[at] if at < len(pairs) else ("", "")
        data |= {f"prices-{at}-from_quantity": amount, f"prices-{at}-unit_price": price}
    return data


@pytest.fixture
def supplier(organisation):
    return SupplierFactory(organisation=organisation, code="bristlecone", name="Bristlecone")


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail-1-3-8", name="1-3/8 rail")


def offer_data(rail, *pairs, **changes):
    data = {
        "material": rail.pk,
        "length": "10'",
        "pack": "1",
        "lead_days": "6",
        "valid_until": "",
        "supplier_code": "B1",
    }
    return data | prices(*(pairs or [("1", "14.60"), ("50", "13.40")])) | changes


# Materials


def test_start_with_the_shipped_materials(signed_in, organisation):
    page = text_of(signed_in.get(reverse("catalogue:materials")))
    assert "No materials yet." in page
    assert signed_in.get(reverse("catalogue:add-starting")).status_code == 405
    page = text_of(signed_in.post(reverse("catalogue:add-starting"), follow=True))
    there = Material.objects.of(organisation).count()
    assert there > 40
    assert f"{there} materials added" in page


def test_a_material_is_made_and_changed(signed_in, organisation):
    given = {
        "name": "2-3/8 pipe",
        "code": "Pipe-2-3-8",
        "kind": "tube",
        "width": "2-3/8",
        "thickness": "0.065 in",
        "note": "",
    }
    assert signed_in.post(reverse("catalogue:material-new"), given).status_code == 302
    made = Material.objects.get()
    assert (made.code, made.width, made.thickness) == ("pipe-2-3-8", INCH * Decimal("2.375"), INCH * Decimal("0.065"))
    url = reverse("catalogue:material", args=[made.code])
    assert signed_in.post(url, given | {"code": "other", "width": "60 mm"}).status_code == 302
    made.refresh_from_db()
    assert (made.code, made.width) == ("pipe-2-3-8", Decimal(60))


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"name": ""}, "name", "Type what it is called"),
        ({"code": "new"}, "code", "“new” is a word of an address here"),
        ({"code": "1 3/8"}, "code", "Use letters a to z"),
        ({"code": "RAIL-1-3-8"}, "code", "taken already"),
        ({"kind": ""}, "kind", "Choose what kind"),
        ({"width": "wide"}, "width", "Type it like"),
        ({"width": "-2"}, "width", "below zero"),
    ],
)
def test_a_material_that_cannot_be_is_refused_at_the_field(signed_in, rail, changes, field, words):
    given = {"name": "Pipe", "code": "pipe", "kind": "tube", "width": "2", "thickness": "", "note": ""} | changes
    errors = signed_in.post(reverse("catalogue:material-new"), given).context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    assert list(Material.objects.all()) == [rail]


# Suppliers


def test_a_supplier_is_made_and_changed(signed_in):
    given = {
        "name": "Tansy (invented)",
        "code": "tansy",
        "contact": "",
        "address": "77 Street",
        "delivery_charge": "$40",
    }
    given |= {"free_delivery_from": "1,500.00", "minimum_order": ""}
    response = signed_in.post(reverse("catalogue:supplier-new"), given)
    made = Supplier.objects.get()
    assert response.url == reverse("catalogue:supplier", args=["tansy"])
    assert (made.delivery_charge, made.free_delivery_from, made.minimum_order) == (40, 1500, 0)
    page = text_of(signed_in.get(response.url))
    assert "No offers yet" in page
    assert "$40.00" in page
    url = reverse("catalogue:supplier-edit", args=["tansy"])
    errors = signed_in.post(url, given | {"delivery_charge": "free", "minimum_order": "-1"}).context["form"].errors
    assert "not an amount of money" in errors["delivery_charge"][0]
    assert "below zero" in errors["minimum_order"][0]
    assert signed_in.post(url, given | {"free_delivery_from": ""}).status_code == 302
    made.refresh_from_db()
    assert made.free_delivery_from is None
    assert "Tansy" in text_of(signed_in.get(reverse("catalogue:suppliers")))


# Offers


def test_an_offer_is_made_changed_and_removed(signed_in, supplier, rail):
    page = reverse("catalogue:supplier", args=[supplier.code])
    given = offer_data(rail, ("1", "14.60"), ("", ""), ("50", "$13.40"), valid_until="2027-06-30")
    assert signed_in.post(reverse("catalogue:offer-new", args=[supplier.code]), given).url == page
    made = Offer.objects.get()
    assert (made.length, made.valid_until, made.supplier_code) == (FOOT * 10, date(2027, 6, 30), "B1")
    assert "14.60; from 50: 13.40" in text_of(signed_in.get(page))
    assert "30 June 2027" in text_of(signed_in.get(page))
    url = reverse("catalogue:offer", args=[supplier.code, made.pk])
    shown = text_of(signed_in.get(url))
    assert 'value="13.40"' in shown
    assert "10&#x27;" in shown
    assert signed_in.post(url, offer_data(rail, ("1", "2.0625"))).url == page
    assert PriceBreak.objects.get().unit_price == Decimal("2.0625")
    assert signed_in.post(reverse("catalogue:offer-remove", args=[supplier.code, made.pk])).url == page
    assert not Offer.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"material": ""}, "material", "Choose the material"),
        ({"length": ""}, "length", "comes by length"),
        ({"length": "ten"}, "length", "Type it like"),
        ({"pack": "0"}, "pack", "from 1 to"),
        ({"pack": "1000000000000"}, "pack", "from 1 to"),
        ({"lead_days": "-1"}, "lead_days", "from 0 to 730"),
        ({"valid_until": "soon"}, "valid_until", "year-month-day"),
    ],
)
def test_an_offer_that_cannot_be_is_refused_at_the_field(signed_in, supplier, rail, changes, field, words):
    url = reverse("catalogue:offer-new", args=[supplier.code])
    response = signed_in.post(url, offer_data(rail, **changes))
    errors = response.context["form"].errors
    assert list(errors) == [field]
    assert words in errors[field][0]
    assert 'value="13.40"' in text_of(response)
    assert not Offer.objects.exists()


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("", "")], "Type at least one price"),
        ([("50", "13")], "Add the price from 1 piece"),
        ([("1", "13"), ("50", "14")], "is above the one from 1"),
        ([("1", "13"), ("1", "12")], "Two prices start from 1."),
    ],
)
def test_prices_that_do_not_go_together_are_told_above_them(signed_in, supplier, rail, pairs, words):
    response = signed_in.post(reverse("catalogue:offer-new", args=[supplier.code]), offer_data(rail, *pairs))
    assert words in response.context["problem"]
    assert words in text_of(response)
    assert not Offer.objects.exists()


@pytest.mark.parametrize(
    ("pair", "field", "words"),
    [
        (("1", ""), "unit_price", "Type the price of one piece, or empty the row."),
        (("", "13"), "from_quantity", "Type from how many pieces"),
        (("1", "dear"), "unit_price", "not an amount of money"),
        (("many", "13"), "from_quantity", "whole number from 1"),
        (("1", "-13"), "unit_price", "below zero"),
    ],
)
def test_a_price_that_cannot_be_read_is_refused_in_its_row(signed_in, supplier, rail, pair, field, words):
    response = signed_in.post(reverse("catalogue:offer-new", args=[supplier.code]), offer_data(rail, pair))
    assert words in response.context["prices"].forms[0].errors[field][0]
    assert words in text_of(response)
    assert not Offer.objects.exists()


def test_price_rows_that_were_tampered_with_store_nothing(signed_in, supplier, rail):
    given = offer_data(rail) | {"prices-TOTAL_FORMS": "x"}
    response = signed_in.post(reverse("catalogue:offer-new", args=[supplier.code]), given)
    assert response.status_code == 200
    assert not Offer.objects.exists()


# Lists and whose rows


@pytest.mark.parametrize("name", ["materials", "suppliers", "supplier"])
def test_lists_ask_as_often_whatever_their_length(signed_in, supplier, name, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def fill(count):
        for _ in range(count):
            OfferFactory(supplier=supplier)
            SupplierFactory(organisation=supplier.organisation)

    url = reverse(f"catalogue:{name}", args=[supplier.code] if name == "supplier" else [])
    fill(3)
    with CaptureQueriesContext(connection) as few:
        assert signed_in.get(url).status_code == 200
    fill(40)
    with django_assert_num_queries(len(few)):
        assert "Rows 1 to 25 of" in text_of(signed_in.get(url))


def test_nobody_sees_the_catalogue_of_another_organisation(signed_in, supplier, rail):
    other = OrganisationFactory()
    theirs = OfferFactory(
        supplier__organisation=other,
        supplier__code="secret-supplier",
        supplier__name="Secret supplier",
        material__name="Secret pipe",
        material__code="secret-pipe",
    )
    for name in ("materials", "suppliers"):
        assert "Secret" not in text_of(signed_in.get(reverse(f"catalogue:{name}")))
    assert "Secret" not in text_of(signed_in.get(reverse("catalogue:offer-new", args=[supplier.code])))
    for name, args in (
        ("material", ["secret-pipe"]),
        ("supplier", ["secret-supplier"]),
        ("supplier-edit", ["secret-supplier"]),
        ("offer-new", ["secret-supplier"]),
        ("offer", ["secret-supplier", theirs.pk]),
        ("offer", [supplier.code, theirs.pk]),
    ):
        url = reverse(f"catalogue:{name}", args=args)
        assert signed_in.get(url).status_code == 404
        assert signed_in.post(url, offer_data(rail)).status_code == 404
    for code in ("secret-supplier", supplier.code):
        assert signed_in.post(reverse("catalogue:offer-remove", args=[code, theirs.pk])).status_code == 404
    response = signed_in.post(reverse("catalogue:offer-new", args=[supplier.code]), offer_data(theirs.material))
    assert "material" in response.context["form"].errors
    assert list(Offer.objects.all()) == [theirs]


def test_one_supplier_does_not_open_the_offers_of_another(signed_in, supplier, organisation):
    made = OfferFactory(supplier=SupplierFactory(organisation=organisation))
    assert signed_in.get(reverse("catalogue:offer", args=[supplier.code, made.pk])).status_code == 404


@pytest.mark.parametrize(
    ("name", "args"),
    [
        ("materials", []),
        ("material-new", []),
        ("material", ["x"]),
        ("add-starting", []),
        ("suppliers", []),
        ("supplier-new", []),
        ("supplier", ["x"]),
        ("supplier-edit", ["x"]),
        ("offer-new", ["x"]),
        ("offer", ["x", 1]),
        ("offer-remove", ["x", 1]),
    ],
)
def test_every_page_asks_to_sign_in(client, name, args):
    response = client.post(reverse(f"catalogue:{name}", args=args))
    assert response.status_code == 302
    assert response.url.startswith(reverse("sign-in"))
