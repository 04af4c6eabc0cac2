"""Short names that nobody types: made of the name, once in the organisation, by whoever comes first or second."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.urls import reverse

from farmbuild.catalogue.models import Material, Supplier
from farmbuild.catalogue.services import add_starting_catalogue, create_material, create_supplier
from tests.factories import MaterialFactory, OrganisationFactory

EIGHT = 8


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("1-3/8 in rail", "1-3-8-in-rail"),
        ("33.7 mm tube", "33-7-mm-tube"),
        ("32 × 1,5 mm", "32-1-5-mm"),
        ("New", "new-2"),
        ("Профиль", "material"),
        ("r" * 120, "r" * 50),
        ("Rail", "rail-2"),
    ],
)
def test_a_code_is_made_of_the_name(organisation, name, code):
    MaterialFactory(organisation=organisation, code="rail")
    MaterialFactory(organisation=OrganisationFactory(), code=code)
    made = create_material(organisation=organisation, user=None, name=name, kind="hardware")
    assert made.code == code
    assert create_material(organisation=organisation, user=None, name=name, kind="hardware").code != code


@pytest.mark.django_db
def test_the_pages_ask_for_none_and_keep_what_is_typed(signed_in):
    page = signed_in.get(reverse("catalogue:supplier-new")).content.decode()
    assert '<details class="working"><summary>Short name</summary>' in page
    given = {"name": "Invented Pipe", "code": "", "delivery_charge": "0", "minimum_order": "0"}
    for code, kept in (("", "invented-pipe"), ("", "invented-pipe-2"), ("Own", "own")):
        sent = signed_in.post(reverse("catalogue:supplier-new"), given | {"code": code})
        assert sent["Location"] == reverse("catalogue:supplier", args=[kept])
    # What is wrong in the fold is not hidden in it.
    refused = signed_in.post(reverse("catalogue:supplier-new"), given | {"code": "own"}).content.decode()
    assert '<details class="working" open><summary>Short name</summary>' in refused
    assert "taken already" in refused
    material = {"name": "Hook", "kind": "hardware", "code": ""}
    assert signed_in.post(reverse("catalogue:material-new"), material).status_code == 302
    assert Material.objects.get().code == "hook"


@pytest.mark.django_db(transaction=True)
def test_eight_who_name_a_thing_alike_at_once_get_eight_short_names(organisation):
    def make(number: int) -> None:
        try:
            if number == 0:
                add_starting_catalogue(organisation=organisation)
            create_material(organisation=organisation, user=None, name="Tek screw", kind="fastener")
            create_supplier(organisation=organisation, user=None, name="Tek")
        finally:
            connection.close()

    with ThreadPoolExecutor(EIGHT) as pool:
        list(pool.map(make, range(EIGHT)))
    wanted = {"tek-screw"} | {f"tek-screw-{number}" for number in range(2, EIGHT + 1)}
    assert set(Material.objects.filter(name="Tek screw").values_list("code", flat=True)) == wanted
    assert Supplier.objects.values("code").distinct().count() == EIGHT
