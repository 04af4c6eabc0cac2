"""The house drawn as it is typed: what the page is answered, and that nothing is stored by it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.catalogue.models import Offer, PriceBreak
from farmbuild.common.models import Press
from farmbuild.orgs.clock import today_of
from farmbuild.sites.bridge import take_off_of
from farmbuild.sites.models import House
from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starter_named
from tests.factories import HouseFactory, MaterialFactory, RecipeFactory, SiteFactory, SupplierFactory
from tests.sites.posting import edit_data, sent_by

pytestmark = pytest.mark.django_db
NEW = "/houses/new/draw/"


@pytest.fixture
def house(organisation, user):
    values = prepare_starter(organisation=organisation, user=user, starter=starter_named("12-ft-house"))
    return create_house(
        organisation=organisation,
        user=user,
        site=SiteFactory(organisation=organisation),
        name="North Field 2",
        need_date=date(2027, 5, 3),
        data=values,
    )


def address(house: House) -> str:
    return reverse("sites:house-draw", args=[house.slug])


def drawn(client, house: House, **typed: str) -> dict:
    answer = client.post(address(house), edit_data(client, house) | typed)
    assert answer.status_code == 200
    return answer.json()


def price(organisation, material, length, amount, **more) -> Offer:
    supplier = SupplierFactory(organisation=organisation)
    offer = Offer.objects.create(organisation=organisation, supplier=supplier, material=material, length=length, **more)
    PriceBreak.objects.create(offer=offer, from_quantity=1, unit_price=amount)
    return offer


def test_it_draws_and_counts_what_is_typed_as_the_take_off_does(signed_in, house):
    answer = drawn(signed_in, house, length="60", spacing_wanted="5")
    assert "length 60&#x27;" in answer["views"] and answer["problems"] == {}
    house.length, house.spacing_wanted = Decimal("18288"), Decimal("1524")
    (hoops,) = [row for row in take_off_of(house, "imperial") if row.purpose == "hoops"]
    assert answer["facts"].startswith(f"13 hoops, {hoops.quantity} sticks, ")
    for name in ("post_span", "recipe", "length", "spacing_wanted", "post_depth", "front_door_width"):
        assert f'"{name}"' in answer["views"] or f" {name}" in answer["views"] or f'"{name} ' in answer["views"], name


def test_nothing_is_stored_and_the_form_is_not_used_up(signed_in, house):
    sent = edit_data(signed_in, house) | {"length": "60", "once": "0" * 32}
    with CaptureQueriesContext(connection) as asked:
        signed_in.post(address(house), sent)
    assert [query["sql"] for query in asked if query["sql"].split()[0] not in ("SELECT", "SAVEPOINT", "RELEASE")] == []
    house.refresh_from_db()
    assert house.length == Decimal("14630.4") and not Press.objects.exists()
    # The same form is then saved.
    assert signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent).status_code == 302


@pytest.mark.parametrize("offers", [0, 12])
def test_it_asks_little_however_much_there_is(signed_in, organisation, house, offers):
    for _ in range(offers):
        price(organisation, house.recipe.tube, house.recipe.stick_length, Decimal("12.50"))
        MaterialFactory(organisation=organisation, kind="hardware")
    sent = edit_data(signed_in, house)
    with CaptureQueriesContext(connection) as asked:
        signed_in.post(address(house), sent)
    assert len(asked) <= 16, "\n".join(query["sql"][:90] + query["sql"].partition("FROM")[2][:160] for query in asked)


def test_what_keeps_it_from_being_drawn_stands_at_its_field_and_in_the_line_of_its_part(signed_in, house):
    answer = drawn(signed_in, house, brace_length="tall")
    assert answer["views"] is None and list(answer["problems"]) == ["brace_length"]
    assert answer["lines"]["corner-braces"] == f"to correct: {answer['problems']['brace_length'][0]}"
    assert answer["wrong"] == ["corner-braces"]
    # And what planning refuses, at the field that it names.
    answer = drawn(signed_in, house, front_door_width="13'")
    assert list(answer["problems"]) == ["front_door_width"] and answer["facts"].startswith("Not drawn yet. ")


def test_a_name_site_or_day_that_is_missing_does_not_keep_it_from_being_drawn(signed_in, house):
    answer = drawn(signed_in, house, name="", site="", need_date="")
    assert answer["views"] and answer["problems"] == {}


def test_the_lines_of_the_parts_follow(signed_in, house):
    answer = drawn(signed_in, house, ridge_purlins="1", side_purlins="4")
    assert answer["lines"]["purlins"].startswith("1 ridge and 4 side purlins: ")
    assert answer["lines"]["own-rows"] == "none"


def test_a_blank_house_says_what_is_missing_at_no_field(signed_in, organisation):
    SiteFactory(organisation=organisation)
    recipe = RecipeFactory(organisation=organisation)
    form = signed_in.get(reverse("sites:house-create", args=["blank-house"])).context["form"]
    answer = signed_in.post(NEW, sent_by(form)).json()
    assert (answer["views"], answer["problems"]) == (None, {})
    assert answer["facts"] == "Not drawn yet. Type how far apart the ground posts stand across the house."
    sizes = {"recipe": str(recipe.pk), "post_span": "12", "length": "48", "spacing_wanted": "4"}
    assert signed_in.post(NEW, sent_by(form) | sizes).json()["views"]
    assert not House.objects.exists()


# Cost


def test_the_cost_says_what_has_no_price(signed_in, organisation, house):
    assert "no rough cost yet" in drawn(signed_in, house)["facts"]
    price(organisation, house.recipe.tube, house.recipe.stick_length, Decimal("10"))
    answer = drawn(signed_in, house)
    assert "about $" in answer["facts"]
    assert "have no price: " in answer["more"] and "before tax and delivery" in answer["more"]
    organisation.prices_include_tax = True
    organisation.save()
    assert "with tax, before delivery" in drawn(signed_in, house)["more"]


def test_offers_that_ended_and_those_of_others_give_no_price(signed_in, organisation, house):
    tube, length = house.recipe.tube, house.recipe.stick_length
    price(
        organisation, tube, length, Decimal("10"), valid_until=today_of(organisation=organisation) - timedelta(days=2)
    )
    other = MaterialFactory(code=tube.code, kind="tube")
    price(other.organisation, other, length, Decimal("10"))
    assert "no rough cost yet" in drawn(signed_in, house)["facts"]


# Whose rows, and how it is asked


def test_rows_of_another_organisation_are_refused(signed_in, house):
    other = HouseFactory()
    assert signed_in.post(address(other), {}).status_code == 404
    recipe, material = RecipeFactory(), MaterialFactory(kind="film", name="Film of others")
    for name, row in (("recipe", recipe), ("film_material", material)):
        answer = drawn(signed_in, house, **{name: str(row.pk)})
        assert answer["views"] is None and list(answer["problems"]) == [name]
        assert row.name not in str(answer)


def test_it_is_posted_by_who_is_signed_in_from_our_own_page(client, user, house):
    assert client.post(NEW).status_code == 302 and client.post(address(house)).status_code == 302
    careful = Client(enforce_csrf_checks=True)
    careful.force_login(user)
    assert careful.post(NEW).status_code == 403
    client.force_login(user)
    assert client.get(NEW).status_code == 405 and client.get(address(house)).status_code == 405


def test_a_form_that_somebody_else_has_overtaken_is_still_drawn_and_told_when_saved(signed_in, house):
    sent = edit_data(signed_in, house) | {"length": "60"}
    House.objects.filter(pk=house.pk).update(spacing_wanted=Decimal(1000))
    assert signed_in.post(address(house), sent).json()["views"]
    assert signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent).status_code == 409


def test_rows_of_its_own_are_counted_in_the_cost_as_typed(signed_in, organisation, house):
    strap = MaterialFactory(organisation=organisation, name="Strap", kind="hardware")
    price(organisation, strap, None, Decimal("1000"))
    rows = {"rows-TOTAL_FORMS": "1", "rows-INITIAL_FORMS": "0", "rows-0-material": str(strap.pk)}
    rows |= {"rows-0-quantity": "3", "rows-0-per": "house"}
    assert "about $3,000" in drawn(signed_in, house, **rows)["facts"]
    assert drawn(signed_in, house, **rows)["lines"]["own-rows"].startswith("Strap: 3")
    assert not house.own_rows.exists()
