"""What a member typed is echoed as the cooperative's forms read it, and tells nothing of what the cooperative knows."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import (
    LotFactory,
    MaterialFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def row():
    """A farm that writes 12.5 and feet, at a cooperative that writes 12,5 and metres."""
    lender = OrganisationFactory(unit_system="metric", decimal_sign=",", currency="EUR")
    return MemberFarmFactory(member__organisation=lender, farm=OrganisationFactory(unit_system="imperial"))


def signed_in_as(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def of_sign_in(row) -> Client:
    return signed_in_as(MemberSignInFactory(member=row.member).user)


def of_farm(row) -> Client:
    return signed_in_as(MembershipFactory(organisation=row.farm).user)


@pytest.mark.parametrize("who", [of_sign_in, of_farm])
def test_it_is_read_as_the_cooperative_writes(row, who):
    lender, client = row.organisation.slug, who(row)
    page = client.get(reverse("coop:seen-pipe-new", args=[lender])).content.decode()
    address = reverse("crew:own-understood", args=[lender])
    assert f'data-understood-url="{address}"' in page
    said = client.get(address, {"text": "1,25", "unit": "m", "system": ""}).json()["understood"]
    assert said.replace("\xa0", " ").replace("\u202f", " ").startswith("1 250 mm")
    assert "€12,50" in client.get(address, {"text": "12,5", "kind": "money"}).json()["understood"]
    assert client.get(address, {"text": "frog", "unit": "m"}).json().keys() == {"problem"}
    assert client.post(address, {"text": "1", "unit": "m"}).status_code == 405


@pytest.mark.parametrize("who", [of_sign_in, of_farm])
def test_it_tells_nothing_of_what_the_cooperative_pays_or_of_another(row, who):
    client = who(row)
    tube = MaterialFactory(organisation=row.organisation)
    LotFactory(organisation=row.organisation, material=tube, length=Decimal(6000), unit_cost=Decimal("12.50"))
    asked = {"material": tube.pk, "kind": "money", "text": "1250", "length": "6 m"}
    manager = signed_in_as(MembershipFactory(organisation=row.organisation).user)
    assert "question" in manager.get(reverse("common:understood"), asked).json()
    said = client.get(reverse("crew:own-understood", args=[row.organisation.slug]), asked).json()
    assert said.keys() == {"understood"}
    other = reverse("crew:own-understood", args=[OrganisationFactory().slug])
    assert client.get(other, {"text": "1", "unit": "m"}).status_code == 404
