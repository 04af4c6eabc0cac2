"""Two people at one form: the second is told, nothing typed is lost, and of eight at once one is stored."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from farmbuild.catalogue.models import Material, Supplier
from farmbuild.crew.models import Person
from tests.factories import (
    BenderFactory,
    CrewFactory,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    OfferFactory,
    PersonFactory,
    PlaceFactory,
    SkillFactory,
    SupplierFactory,
)

SOMEBODY = "Someone else saved this while you were typing."


def opened(client: Client, address: str, form: str = "form") -> dict[str, object]:
    """What a browser would send if nothing were typed."""
    answer = client.get(address)
    assert answer.status_code == 200
    assert b'name="opened"' in answer.content
    sent: dict[str, object] = {}
    parts = [answer.context[form]]
    if "prices" in answer.context:
        parts += [answer.context["prices"].management_form, *answer.context["prices"]]
    for part in parts:
        for field in part:
            value = field.value()
            if value not in (None, False):
                sent[field.html_name] = value() if callable(value) else value
    return sent


@pytest.mark.django_db
def test_what_the_first_stored_is_said_and_kept_and_what_the_second_typed_stays(signed_in, organisation):
    supplier = SupplierFactory(organisation=organisation, name="Ridge Pipe", address="1 Old Road", contact="")
    address = reverse("catalogue:supplier-edit", args=[supplier.code])
    first, second = opened(signed_in, address), opened(signed_in, address)

    assert signed_in.post(address, first | {"address": "2 New Road", "contact": "Ilse"}).status_code == 302
    answer = signed_in.post(address, second | {"name": "Ridge Pipe and Rail", "contact": "Bram"})

    assert answer.status_code == 200
    (told,) = answer.context["form"].non_field_errors()
    assert told.startswith(SOMEBODY)
    assert "Address: was 1 Old Road, now 2 New Road." in told
    assert "now Ilse (you typed Bram, which stays)" in told
    supplier.refresh_from_db()
    assert (supplier.name, supplier.contact) == ("Ridge Pipe", "Ilse")

    again = {field.html_name: field.value() for field in answer.context["form"] if field.value() is not None}
    assert again["address"] == "2 New Road"
    assert signed_in.post(address, again).status_code == 302
    supplier.refresh_from_db()
    assert (supplier.name, supplier.address, supplier.contact) == ("Ridge Pipe and Rail", "2 New Road", "Bram")


@pytest.mark.django_db
def test_the_same_change_by_both_is_no_clash(signed_in, organisation):
    material = MaterialFactory(organisation=organisation, name="Rail")
    address = reverse("catalogue:material", args=[material.code])
    first, second = opened(signed_in, address), opened(signed_in, address)
    assert signed_in.post(address, first | {"name": "Top rail"}).status_code == 302
    assert signed_in.post(address, second | {"name": "Top rail"}).status_code == 302
    assert Material.objects.get(pk=material.pk).name == "Top rail"


@pytest.mark.django_db
def test_choices_of_several_are_compared(signed_in, organisation):
    ladder, bending = (SkillFactory(organisation=organisation, name=name) for name in ("Ladder", "Bending"))
    person = PersonFactory(organisation=organisation, name="Fenn", crew=CrewFactory(organisation=organisation))
    address = reverse("crew:person-edit", args=[person.slug])
    first, second = opened(signed_in, address), opened(signed_in, address)
    assert signed_in.post(address, first | {"skills": [ladder.pk, bending.pk]}).status_code == 302
    answer = signed_in.post(address, second | {"name": "Fenna"})
    (told,) = answer.context["form"].non_field_errors()
    assert "was none, now Bending, Ladder" in told
    again = opened_again(answer)
    assert signed_in.post(address, again).status_code == 302
    person = Person.objects.get(pk=person.pk)
    assert person.name == "Fenna"
    assert set(person.skills.all()) == {ladder, bending}


def opened_again(answer) -> dict[str, object]:
    form = answer.context["form"]
    return {field.html_name: field.value() for field in form if field.value() not in (None, "", False)}


@pytest.mark.django_db
def test_prices_of_an_offer_count_too(signed_in, organisation):
    offer = OfferFactory(
        supplier=SupplierFactory(organisation=organisation), material=MaterialFactory(organisation=organisation)
    )
    address = reverse("catalogue:offer", args=[offer.supplier.code, offer.pk])
    first, second = opened(signed_in, address), opened(signed_in, address)
    was = offer.breaks.get(from_quantity=1).unit_price
    assert signed_in.post(address, first | {"prices-0-unit_price": str(was + 1)}).status_code == 302
    answer = signed_in.post(address, second | {"prices-0-unit_price": str(was + 2)})
    assert answer.status_code == 200
    (told,) = answer.context["form"].non_field_errors()
    assert f"Prices: was {was.normalize():f} from 1, now" in told
    assert offer.breaks.get(from_quantity=1).unit_price == was + 1


@pytest.mark.django_db
def test_a_lot_and_a_form_that_says_not_what_it_read(signed_in, organisation):
    """Pieces that come and go meanwhile are no clash; a page without the seal is stored as it always was."""
    lot = LotFactory(material=MaterialFactory(organisation=organisation), unit_cost=Decimal(3))
    address = reverse("stock:lot-edit", args=[lot.pk])
    sent = opened(signed_in, address)
    assert signed_in.post(address, sent | {"unit_cost": "4", "reason": "a bill"}).status_code == 302
    answer = signed_in.post(address, sent | {"unit_cost": "5", "reason": "a bill"})
    assert "now 4" in answer.context["form"].non_field_errors()[0]
    sent.pop("opened")
    assert signed_in.post(address, sent | {"unit_cost": "5", "reason": "a bill"}).status_code == 302
    lot.refresh_from_db()
    assert lot.unit_cost == 5


@pytest.mark.django_db
def test_what_was_archived_meanwhile_is_told_once(signed_in, organisation):
    crew = CrewFactory(organisation=organisation, name="South")
    address = reverse("crew:crew-edit", args=[crew.slug])
    sent = opened(signed_in, address)
    assert signed_in.post(reverse("crew:crew-archive", args=[crew.slug])).status_code == 302
    answer = signed_in.post(address, sent | {"name": "South side"})
    (told,) = answer.context["form"].non_field_errors()
    assert "Archived: was no, now yes." in told
    assert signed_in.post(address, opened_again(answer)).status_code == 302
    crew.refresh_from_db()
    assert crew.name == "South side" and crew.archived_at


@pytest.mark.django_db
def test_every_edit_page_sends_what_it_was_opened_with(signed_in, organisation):
    crew = CrewFactory(organisation=organisation)
    house = HouseFactory(site__organisation=organisation)
    pages = [
        reverse("orgs:organisation"),
        reverse("sites:site-edit", args=[house.site.slug]),
        reverse("sites:house-edit", args=[house.slug]),
        reverse("hoops:recipe-edit", args=[house.recipe.slug]),
        reverse("hoops:bender-edit", args=[BenderFactory(organisation=organisation).slug]),
        reverse("crew:crew-edit", args=[crew.slug]),
        reverse("stock:place", args=[PlaceFactory(organisation=organisation).pk]),
    ]
    assert [page for page in pages if "opened" not in opened(signed_in, page)] == []


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_save_at_once_one_is_stored_and_seven_are_told(signed_in, organisation, user):
    supplier = SupplierFactory(organisation=organisation, name="Ridge Pipe", contact="")
    address = reverse("catalogue:supplier-edit", args=[supplier.code])
    sent = opened(signed_in, address)

    def save(number: int) -> str:
        client = Client()
        client.force_login(user)
        try:
            answer = client.post(address, sent | {"contact": f"Person {number}"})
        finally:
            connection.close()
        if answer.status_code == 302:
            return f"Person {number}"
        assert SOMEBODY in answer.context["form"].non_field_errors()[0]
        return "told"

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(save, range(8)))
    (stored,) = [answer for answer in answers if answer != "told"]
    assert Supplier.objects.get(pk=supplier.pk).contact == stored
