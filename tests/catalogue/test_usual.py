"""A price or a length far from what the material usually is: asked about before it is saved, and saved once ticked."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Offer
from farmbuild.catalogue.usual import Priced, length_question, price_question
from farmbuild.measure import THIN_SPACE, NumberStyle, use_style
from farmbuild.stock.models import Lot
from tests.factories import LotFactory, MaterialFactory, OfferFactory, SupplierFactory

COMMA = NumberStyle(",", THIN_SPACE)


@pytest.fixture
def tube(organisation):
    """Three offers of 6 m sticks: 12, 12.50 and 13."""
    organisation.unit_system, organisation.decimal_sign, organisation.currency = "metric", ",", "EUR"
    organisation.save()
    made = MaterialFactory(organisation=organisation, name="Tube 33.7", kind="tube")
    for price in ("12", "12.50", "13"):
        offer = OfferFactory(
            organisation=organisation,
            material=made,
            supplier=SupplierFactory(organisation=organisation),
            length=Decimal(6000),
        )
        offer.breaks.all().delete()
        offer.breaks.create(from_quantity=1, unit_price=Decimal(price))
    return made


def receipt(tube, **changes):
    said = {
        "material": tube.pk,
        "length": "6000",
        "quantity": "24",
        "place_name": "Yard",
        "unit_cost": "12,50",
        "received_on": "2027-03-01",
    }
    return said | changes


def opened_of(client, page):
    """What the page carries of the row, in the style in which it was shown."""
    return re.search(r'name="opened" value="([^"]+)"', client.get(page).content.decode())[1]


def press(client, data):
    return client.post(reverse("stock:receive"), data)


def test_what_is_usual_is_not_asked_about(signed_in, tube):
    assert press(signed_in, receipt(tube)).status_code == 302
    lot = Lot.objects.get()
    assert (lot.unit_cost, lot.length) == (Decimal("12.50"), 6000)
    # Half the length for half the price, and a short offcut.
    assert press(signed_in, receipt(tube, length="3 m", unit_cost="6")).status_code == 302
    assert press(signed_in, receipt(tube, length="400 mm", unit_cost="0,80", offcut="on")).status_code == 302


@pytest.mark.parametrize(
    "changes, field, question",
    [
        ({"unit_cost": "1250"}, "unit_cost", "€1\u202f250,00 is 100 times what Tube 33.7 usually costs, €12,50."),
        ({"unit_cost": "0,125"}, "unit_cost", "€0,125 is 1/100 of what Tube 33.7 usually costs, €12,50."),
        ({"length": "60", "unit_cost": ""}, "length", "is longer than any stick"),
        (
            {"length": "0,06", "unit_cost": ""},
            "length",
            "60 mm is 1/100 of the usual length of Tube 33.7, 6\u202f000 mm.",
        ),
    ],
)
def test_what_is_far_is_asked_about_and_nothing_is_lost(signed_in, tube, changes, field, question):
    answer = press(signed_in, receipt(tube, **changes))
    assert answer.status_code == 200 and not Lot.objects.exists()
    form = answer.context["form"]
    assert question in form.errors[field][0]
    assert form["quantity"].value() == "24"
    assert ('name="sure"' in answer.content.decode()) == ("Is it right?" in form.errors[field][0])


def test_ticked_and_pressed_again_it_is_saved(signed_in, tube):
    answer = press(signed_in, receipt(tube, unit_cost="1250"))
    said = answer.context["form"]["sure"].field.widget.said
    assert press(signed_in, receipt(tube, unit_cost="1250", sure=said)).status_code == 302
    assert Lot.objects.get().unit_cost == 1250


def test_a_tick_holds_for_what_was_asked_alone(signed_in, tube):
    said = press(signed_in, receipt(tube, unit_cost="1250")).context["form"]["sure"].field.widget.said
    again = press(signed_in, receipt(tube, unit_cost="12500", sure=said))
    assert again.status_code == 200 and "1\u202f000 times" in again.context["form"].errors["unit_cost"][0]
    assert not Lot.objects.exists()


def offer_data(tube, price, **changes):
    rows = {"prices-TOTAL_FORMS": "2", "prices-INITIAL_FORMS": "0", "prices-0-from_quantity": "1"}
    said = {"material": tube.pk, "length": "6", "pack": "1", "lead_days": "0", "prices-0-unit_price": price}
    return rows | said | changes


def test_prices_of_an_offer(signed_in, tube, organisation):
    supplier = SupplierFactory(organisation=organisation)
    address = reverse("catalogue:offer-new", args=[supplier.code])
    answer = signed_in.post(address, offer_data(tube, "1.250,00"))
    assert answer.status_code == 200 and not supplier.offers.exists()
    assert "100 times" in answer.context["prices"].forms[0].errors["unit_price"][0]
    assert "100 times" in answer.content.decode()
    said = answer.context["form"]["sure"].field.widget.said
    assert signed_in.post(address, offer_data(tube, "1.250,00", sure=said)).status_code == 302
    made = supplier.offers.get()
    assert made.breaks.get().unit_price == 1250
    # Saved again unchanged, nothing is asked.
    page = reverse("catalogue:offer", args=[supplier.code, made.pk])
    opened = opened_of(signed_in, page)
    again = signed_in.post(page, offer_data(tube, "1250,00", opened=opened, **{"prices-INITIAL_FORMS": "1"}))
    assert again.status_code == 302, again.context["problem"]


def test_the_first_of_a_material_is_not_asked_about(signed_in, organisation):
    screw = MaterialFactory(organisation=organisation, kind="fastener")
    data = receipt(screw, unit_cost="1250.00", length="")
    assert press(signed_in, data).status_code == 302


def test_the_page_asks_before_it_is_sent(signed_in, tube):
    def asked(**query):
        return signed_in.get(reverse("common:understood"), {"material": tube.pk} | query).json()

    assert "100 times" in asked(kind="money", text="1250", length="6000")["question"]
    assert "question" not in asked(kind="money", text="12,50", length="6 m")
    assert "1/100 of" in asked(kind="length", text="60 mm", unit="m")["question"]
    assert "question" not in asked(kind="money", text="1250", material="no")


def test_a_lot_s_cost_is_asked_about_only_when_it_changes(signed_in, tube, organisation):
    lot = LotFactory(organisation=organisation, material=tube, length=Decimal(6000), unit_cost=Decimal(9999))
    page = reverse("stock:lot-edit", args=[lot.pk])
    shown = signed_in.get(page).context["form"]
    with use_style(COMMA):
        data = {name: shown[name].value() or "" for name in shown.fields if name != "offcut"}
    assert signed_in.post(page, data | {"reference": "R-1"}).status_code == 302
    data["opened"] = opened_of(signed_in, page)
    answer = signed_in.post(page, data | {"reference": "R-1", "unit_cost": "8888"})
    assert answer.status_code == 200 and "Is it right?" in answer.context["form"].errors["unit_cost"][0]


def test_a_stick_of_kilometres_is_refused_and_what_is_stored_stays(signed_in, tube, organisation):
    answer = press(signed_in, receipt(tube, length="6000 m"))
    assert answer.context["form"].errors["length"][0] == (
        "6000 m is longer than any stick, which is at most 30 m. Did you mean 6000 mm?"
    )
    old = LotFactory(organisation=organisation, material=tube, length=Decimal(6_000_000), unit_cost=Decimal("12.50"))
    old.full_clean()
    Offer.objects.filter(material=tube).update(length=Decimal(6_000_000))
    Offer.objects.filter(material=tube).first().full_clean()


@pytest.mark.parametrize(
    ("price", "length", "asked"),
    [
        ("125", "6000", ""),
        ("125.0001", "6000", "price"),
        ("1.25", "6000", ""),
        ("1.2499", "6000", "price"),
        (None, "30000", ""),
        (None, "600", ""),
        (None, "599.999999", "length"),
    ],
)
def test_just_ten_times_is_not_far(tube, price, length, asked) -> None:
    """One piece of 6 m at 12.50 is known."""
    known = [Priced(Decimal("12.50"), Decimal(6000))]
    cost, size = price and Decimal(price), Decimal(length)
    assert bool(price_question(tube, cost, size, known)) is (asked == "price")
    assert bool(length_question(tube, size, known)) is (asked == "length")
    # A roll may be ten times as long, and is asked about above that.
    tube.kind = "film"
    assert not length_question(tube, Decimal(60_000), known)
    assert length_question(tube, Decimal("60000.000001"), known)
