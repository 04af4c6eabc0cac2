"""The administration shows plans and orders and changes neither."""

from __future__ import annotations

import pytest
from django.urls import reverse

from farmbuild.catalogue.models import Supplier
from farmbuild.sites.models import House
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db


@pytest.fixture
def keeper(client):
    client.force_login(keeper_of_the_server())
    return client


def test_a_plan_and_an_order_can_be_looked_at_and_not_changed(keeper, accepted):
    for name, row in (("plans_plan", accepted), ("buying_purchaseorder", accepted.orders.first())):
        assert keeper.get(reverse(f"admin:{name}_changelist")).status_code == 200
        address = reverse(f"admin:{name}_change", args=[row.pk])
        assert keeper.get(address).status_code == 200
        assert keeper.post(address, {"name": "Other"}).status_code == 403
        assert keeper.get(reverse(f"admin:{name}_delete", args=[row.pk])).status_code == 403
        assert keeper.get(reverse(f"admin:{name}_add")).status_code == 403


def test_what_a_plan_holds_is_not_deleted_there(keeper, accepted):
    supplier = accepted.orders.first().supplier
    house = accepted.houses.first()
    for name, row in (("catalogue_supplier", supplier), ("sites_house", house)):
        assert keeper.post(reverse(f"admin:{name}_delete", args=[row.pk]), {"post": "yes"}).status_code == 403
    assert Supplier.objects.filter(pk=supplier.pk).exists()
    assert House.objects.filter(pk=house.pk).exists()
