"""The form of a house asks for its materials once, however many fields choose among them."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.sites.bridge import MATERIAL_FIELDS
from tests.factories import HouseFactory, MaterialFactory

pytestmark = pytest.mark.django_db


def of_materials(client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return sum('FROM "catalogue_material"' in query["sql"] for query in asked.captured_queries)


def test_materials_are_asked_for_once(signed_in, organisation) -> None:
    house = HouseFactory(site__organisation=organisation)
    address = reverse("sites:house-edit", args=[house.slug])
    few = of_materials(signed_in, address)
    for at in range(40):
        MaterialFactory(organisation=organisation, code=f"more-{at}", kind="hardware")
    assert len(MATERIAL_FIELDS) > 20
    # Once for those of the house, and once for the fields and the rows of its own together; twice for what all rows
    # say, before and after.
    assert of_materials(signed_in, address) == few == 4


def test_a_material_that_is_not_on_offer_is_refused(signed_in, organisation) -> None:
    house = HouseFactory(site__organisation=organisation)
    others, tube = MaterialFactory(kind="hardware"), MaterialFactory(organisation=organisation, kind="tube")
    address = reverse("sites:house-edit", args=[house.slug])
    form = signed_in.get(address).context["form"]
    sent = {bound.html_name: bound.value() for bound in form if bound.value() is not None}
    sent |= {"rows-TOTAL_FORMS": "0", "rows-INITIAL_FORMS": "0"}
    for material in (others.pk, tube.pk, 10**9, "rail"):
        page = signed_in.post(address, sent | {"fan_material": material})
        assert list(page.context["form"].errors) == ["fan_material"], material
    house.refresh_from_db()
    assert house.fan_material is None
