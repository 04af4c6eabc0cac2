"""Tubes of the catalogue: the page of a section, its sources, and sizes that cannot be."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.urls import reverse

from farmbuild.catalogue import services
from farmbuild.catalogue.bridge import section_of
from farmbuild.catalogue.models import Material
from farmbuild.catalogue.presenters import tube_figures
from farmbuild.mechanics import TUBES
from tests.factories import MaterialFactory, MembershipFactory
from tests.reading import text_of

INCH = Decimal("25.4")


def test_every_tube_of_the_mechanics_is_shipped_as_it_is_there(organisation):
    services.add_starting_catalogue(organisation=organisation)
    rows = {row.code: row for row in Material.objects.of(organisation).filter(kind="tube")}
    assert set(rows) == set(TUBES)
    for code, tube in TUBES.items():
        row = rows[code]
        assert (row.width, row.thickness, row.yield_mpa) == (tube.od, tube.wall, tube.yield_mpa), code
        assert row.note, code
        assert row.yield_source.rstrip(".").lower() in tube.source.lower(), code


def test_what_is_from_memory_or_common_practice_says_so():
    shipped = json.loads(services.STARTING_CATALOGUE.read_text())["materials"]
    for row in shipped:
        if row["code"].startswith("rail"):
            assert "common practice, no source" in row["note"]
            assert "from memory" in row["yield_source"]


def test_the_page_shows_the_section_with_its_sources(signed_in, organisation):
    """EMT 1/2 in, 0.706 x 0.042: ANSI C80.3 lists 0.30 lb/ft, rounded. Area pi x (0.706 - 0.042) x 0.042."""
    services.add_starting_catalogue(organisation=organisation)
    page = text_of(signed_in.get(reverse("catalogue:material-sizes", args=["emt-1-2"])))
    area = 3.14159265 * 0.664 * 0.042
    assert f"{area:.4f} in² ({area * 645.16:.1f} mm²)" in page
    assert f"{area * 12 * 0.2836:.3f} lb/ft (" in page
    assert area * 12 * 0.2836 == pytest.approx(0.30, rel=0.02)
    assert "0.622 in (15.80 mm)" in page
    assert "30.0 ksi (207 MPa)" in page
    assert "ANSI C80.3" in page
    assert page.count("How worked out") == 7
    organisation.unit_system = "metric"
    organisation.save()
    page = text_of(signed_in.get(reverse("catalogue:material-sizes", args=["emt-1-2"])))
    assert f"{area * 645.16:.1f} mm² ({area:.4f} in²)" in page
    assert f"kg/m ({area * 12 * 0.2836:.3f} lb/ft)" in page
    assert "15.80 mm (0.622 in)" in page
    assert "207 MPa (30.0 ksi)" in page


def test_a_tube_without_wall_or_yield_says_what_is_missing(signed_in, organisation):
    bare = MaterialFactory(organisation=organisation, thickness=None)
    assert section_of(bare) is None
    assert "need both the outside diameter and the wall" in text_of(
        signed_in.get(reverse("catalogue:material-sizes", args=[bare.code]))
    )
    soft = MaterialFactory(organisation=organisation)
    figures = {row.label: row for row in tube_figures(soft)}
    assert figures["Stated yield"].text == "not stated"
    assert "Ask the maker" in text_of(signed_in.get(reverse("catalogue:material-sizes", args=[soft.code])))


def test_a_board_has_a_page_too(signed_in, organisation):
    board = MaterialFactory(organisation=organisation, kind="lumber", width=INCH * 6, thickness=INCH)
    assert "Lumber" in text_of(signed_in.get(reverse("catalogue:material-sizes", args=[board.code])))


TUBE = {
    "name": "Pipe",
    "code": "pipe",
    "kind": "tube",
    "width": "1-3/8 in",
    "thickness": "0.065 in",
    "yield_mpa": "345",
    "yield_source": "Maker",
}


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"thickness": "0.6875 in"}, "thickness", "leaves no bore in a tube 1.375 in across. Type less than 0.688 in"),
        ({"thickness": "1 in"}, "thickness", "leaves no bore"),
        ({"thickness": "0"}, "thickness", "has a wall"),
        ({"yield_mpa": "50"}, "yield_mpa", "50 ksi is 345 MPa"),
        ({"yield_mpa": "50000"}, "yield_mpa", "from 100 to 1500 MPa"),
        ({"yield_mpa": "50 ksi"}, "yield_mpa", "plain number, for example 345"),
        ({"yield_mpa": "-345"}, "yield_mpa", "from 100 to 1500 MPa"),
        ({"yield_mpa": "1" + "0" * 12}, "yield_mpa", "plain number, for example 345"),
        ({"kind": "lumber"}, "yield_mpa", "Leave the yield empty"),
    ],
)
def test_a_tube_that_cannot_be_is_refused_at_the_field(signed_in, changes, field, words):
    form = signed_in.post(reverse("catalogue:material-new"), TUBE | changes).context["form"]
    assert list(form.errors) == [field]
    assert words in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in changes.items())
    assert not Material.objects.exists()


def test_a_tube_is_added_and_its_yield_kept(signed_in):
    signed_in.post(reverse("catalogue:material-new"), TUBE)
    made = Material.objects.get()
    assert (made.yield_mpa, made.yield_source) == (345, "Maker")
    edit = reverse("catalogue:material", args=["pipe"])
    assert signed_in.get(edit).context["form"]["yield_mpa"].value() == "345"
    assert signed_in.post(edit, TUBE | {"yield_mpa": ""}).url == reverse("catalogue:material-sizes", args=["pipe"])
    made.refresh_from_db()
    assert made.yield_mpa is None


def test_neither_services_nor_database_take_a_wall_that_does_not_fit(organisation, user):
    with pytest.raises(ValidationError) as refused:
        services.create_material(
            organisation=organisation, user=user, code="p", name="P", kind="tube", width=INCH, thickness=INCH / 2
        )
    assert set(refused.value.message_dict) == {"thickness"}
    made = MaterialFactory(organisation=organisation)
    with pytest.raises(IntegrityError):
        Material.objects.filter(pk=made.pk).update(thickness=INCH)


def test_no_page_shows_another_organisations_tube(client, organisation):
    made = MaterialFactory(organisation=organisation)
    client.force_login(MembershipFactory().user)
    assert client.get(reverse("catalogue:material-sizes", args=[made.code])).status_code == 404
