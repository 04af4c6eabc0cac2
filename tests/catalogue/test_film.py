"""How thick a film is, as it is sold: typed and shown in mils and micrometres. 1 mil is 0.001 in, 0.0254 mm."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.catalogue import services
from farmbuild.catalogue.models import Material
from farmbuild.measure import Unit, UnitSystem, format_film, parse_length
from farmbuild.planning.materials import Kind
from farmbuild.planning.materials import Material as Planned
from farmbuild.workbooks.project_write import exact_length
from farmbuild.workbooks.words import material_size
from tests.factories import FOOT, MaterialFactory
from tests.reading import text_of, with_spaces

SIX_MIL = Decimal("0.1524")


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("6 mil", "0.1524"),
        ("6mil", "0.1524"),
        ("6 mils", "0.1524"),
        ("5.9 mil", "0.14986"),
        ("150 \N{MICRO SIGN}m", "0.15"),
        ("150 \N{GREEK SMALL LETTER MU}m", "0.15"),
        ("150 um", "0.15"),
        ("150 microns", "0.15"),
        ("0.006 in", "0.1524"),
        ("0.15 mm", "0.15"),
    ],
)
@pytest.mark.parametrize("unit", [Unit.INCH, Unit.MILLIMETRE])
def test_a_film_is_typed_as_it_is_sold(typed, mm, unit):
    assert parse_length(typed, unit) == Decimal(mm)


@pytest.mark.parametrize("typed", ["1,500 mil", "1,500 µm", "6 mil 3", "6 mill", "-6 mil"])
def test_what_could_be_two_things_is_refused(typed):
    with pytest.raises(ValueError, match="Type it like"):
        parse_length(typed, Unit.INCH)


@pytest.mark.parametrize(
    ("mm", "mils", "microns"),
    [("0.1524", "6 mil", "152.4 µm"), ("0.15", "5.91 mil", "150 µm"), ("0.2", "7.87 mil", "200 µm")],
)
def test_a_film_is_said_in_both_systems(mm, mils, microns):
    assert format_film(Decimal(mm), UnitSystem.IMPERIAL) == mils
    assert format_film(Decimal(mm), UnitSystem.METRIC) == microns


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("mm", ["0.1524", "0.15", "0.127", "0.000001", "0.499999"])
def test_what_a_workbook_says_reads_back_the_same(mm, system):
    assert parse_length(exact_length(Decimal(mm), system), Unit.INCH) == Decimal(mm)


@pytest.mark.parametrize(
    ("units", "said"), [("imperial", "20', 6 mil"), ("metric", "6096 mm, 152.4 µm")], ids=["imperial", "metric"]
)
def test_a_supplier_is_told_how_thick(units, said):
    film = Planned("film", "Film", Kind.FILM, width=FOOT * 20, thickness=SIX_MIL)
    assert material_size(film, UnitSystem(units)).replace(" wide", "").replace("\u202f", "") == said


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("units", "own", "other"),
    [("imperial", "6 mil", "152.4 µm"), ("metric", "152.4 µm", "6 mil")],
    ids=["imperial", "metric"],
)
def test_pages_take_and_show_it(signed_in, organisation, units, own, other):
    organisation.unit_system = units
    organisation.save()
    given = {"name": "Film", "code": "film", "kind": "film", "width": "20 ft", "thickness": "6 mil"}
    text_of(signed_in.post(reverse("catalogue:material-new"), given, follow=True))
    made = Material.objects.get(code="film")
    assert made.thickness == SIX_MIL
    listed = text_of(signed_in.get(reverse("catalogue:materials")))
    own_page = text_of(signed_in.get(reverse("catalogue:material-sizes", args=["film"])))
    for page in (listed, own_page):
        assert f"{own} <small>{other}</small>" in page
    typed = signed_in.get(reverse("catalogue:material", args=["film"])).content.decode()
    assert f'value="{own}"' in typed
    understood = signed_in.get(reverse("common:understood"), {"text": "6 mil", "unit": "in", "system": units})
    assert json.loads(with_spaces(understood)) == {"understood": f"{own} = {other}"}


@pytest.mark.django_db
def test_earlier_rows_get_the_shipped_note_by_the_button(signed_in, organisation):
    services.add_starting_catalogue(organisation=organisation)
    Material.objects.of(organisation).filter(code="strap").update(note="")
    MaterialFactory(organisation=organisation, code="own", note="")
    page = text_of(signed_in.post(reverse("catalogue:add-starting"), follow=True))
    assert "You have all of the shipped materials already." in page
    assert "1 material now with a note of where the sizes come from." in page
