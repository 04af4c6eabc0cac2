"""Numbers without a unit, field by field in both unit systems: accepted, asked back with readings, or refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.common.fields import LengthFormField
from farmbuild.hoops.benders.forms import BenderForm
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.forms import RecipeForm
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS, FieldKind
from farmbuild.planning.house.senses import SENSES
from farmbuild.sites.forms import HouseForm
from farmbuild.stock.forms import ReceiveForm
from farmbuild.stock.models import Lot
from tests.factories import FOOT, INCH, MaterialFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db

FORMS = {"bender": BenderForm, "recipe": RecipeForm, "house": HouseForm}
#: form and field, what is typed, and what comes of it: mm, the readings asked, or None where it is refused.
IMPERIAL = [
    ("bender rated_span", "12", 3657.6),
    ("bender rated_span", "150", ["150 in", "150 ft"]),
    ("bender rated_span", "150 ft", 45_720),
    ("bender rated_span", "150 in", 3810),
    ("bender rated_span", '150"', 3810),
    ("bender rated_span", "3650", ["3650 mm", "3650 ft"]),
    ("bender rated_span", "60", ["60 in", "60 ft"]),
    ("bender rated_span", "0", None),
    ("bender rated_radius", "76", 1930.4),
    ("bender rated_radius", "6", ["6 ft", "6 in"]),
    ("bender rated_radius", "6 1/2", ["6 1/2 ft", "6 1/2 in"]),
    ("bender rated_radius", "1930", ["1930 mm", "1930 in"]),
    ("bender label_stick_length", "10", 3048),
    ("bender label_stick_length", "126", ["126 in"]),
    ("bender label_stick_length", "126 ft", None),
    ("bender label_insertion", "4", 101.6),
    ("bender label_insertion", "100", ["100 mm", "100 in"]),
    ("bender bent_rise", "6", 1828.8),
    ("bender bent_rise", "72", ["72 in", "72 ft"]),
    ("recipe stick_length", "21", 6400.8),
    ("recipe stick_length", "120", ["120 in"]),
    ("recipe insertion", "4", 101.6),
    ("recipe insertion", "0", 0),
    ("recipe radius", "79", 2006.6),
    ("recipe radius", "7", ["7 ft", "7 in"]),
    ("recipe pitch", "18", 457.2),
    ("recipe pitch", "450", ["450 mm", "450 in"]),
    ("recipe first_mark", "9", 228.6),
    ("recipe stop_gap", "1", 25.4),
    ("recipe stop_gap", "25", ["25 mm", "25 in"]),
    ("house post_span", "12", 3657.6),
    ("house post_span", "144", ["144 in", "144 ft"]),
    ("house post_span", "3660", ["3660 mm", "3660 ft"]),
    ("house length", "48", 14_630.4),
    ("house length", "576", ["576 in", "576 ft"]),
    ("house length", "1", ["1 ft"]),
    ("house spacing_wanted", "4", 1219.2),
    ("house spacing_wanted", "48", ["48 in", "48 ft"]),
    ("house post_length", "48", 1219.2),
    ("house post_length", "4", ["4 ft", "4 in"]),
    ("house post_depth", "24", 609.6),
    ("house post_depth", "2", ["2 ft", "2 in"]),
    ("house front_door_width", "36", 914.4),
    ("house front_door_width", "3", ["3 ft", "3 in"]),
    ("house front_door_height", "6 1/2", ["6 1/2 ft", "6 1/2 in"]),
    ("house end_stud_spacing", "24", 609.6),
    ("house brace_length", "6", ["6 ft", "6 in"]),
    ("house door_clearance", "1/4", 6.35),
    ("house post_length", "a frog", None),
    ("house post_length", "-48", None),
]
METRIC = [
    ("bender rated_span", "5", 5000),
    ("bender rated_span", "5000", 5000),
    ("bender rated_span", "150", ["150 cm", "150 mm"]),
    ("bender rated_span", "99", ["99 m"]),
    ("bender rated_radius", "1900", 1900),
    ("bender rated_radius", "1.9", ["1.9 m"]),
    ("bender rated_radius", "2", ["2 m"]),
    ("bender rated_radius", "190", ["190 cm", "190 mm"]),
    ("bender label_stick_length", "6", 6000),
    ("bender label_stick_length", "6000", 6000),
    ("bender label_stick_length", "300", ["300 cm", "300 mm"]),
    ("bender label_insertion", "100", 100),
    ("bender label_insertion", "10", ["10 cm", "10 mm"]),
    ("recipe stick_length", "3", 3000),
    ("recipe radius", "2000", 2000),
    ("recipe radius", "2", ["2 m"]),
    ("recipe pitch", "450", 450),
    ("recipe pitch", "45", ["45 cm", "45 mm"]),
    ("house post_span", "3.6", 3600),
    ("house post_span", "3600", 3600),
    ("house post_span", "360", ["360 cm", "360 mm"]),
    ("house length", "15", 15_000),
    ("house length", "15000", 15_000),
    ("house spacing_wanted", "1.2", 1200),
    ("house spacing_wanted", "120", ["120 cm", "120 mm"]),
    ("house post_length", "1200", 1200),
    ("house post_length", "1.2", ["1.2 m", "1.2 mm"]),
    ("house front_door_width", "90", ["90 cm", "90 mm"]),
    ("house front_door_width", "900", 900),
    ("house post_span", "3.6 furlongs", None),
]


@pytest.fixture
def farm(organisation):
    return organisation


def comes_of(organisation: Organisation, where: str, typed: str) -> float | list[str] | None:
    form, name = where.split()
    field: LengthFormField = FORMS[form](organisation=organisation).fields[name]
    try:
        length = field.clean(typed)
    except ValidationError:
        return list(field.readings) or None
    return float(length)


def check(organisation: Organisation, where: str, typed: str, expected: float | list[str] | None) -> None:
    found = comes_of(organisation, where, typed)
    assert found == expected if not isinstance(expected, float) else found == pytest.approx(expected)
    # Each reading answers: pressed, it is taken.
    for reading in expected if isinstance(expected, list) else ():
        assert isinstance(comes_of(organisation, where, reading), float), reading


@pytest.mark.parametrize(("where", "typed", "expected"), IMPERIAL)
def test_typed_in_feet_and_inches(farm, where, typed, expected):
    check(farm, where, typed, expected)


@pytest.mark.parametrize(("where", "typed", "expected"), METRIC)
def test_typed_in_metres(farm, where, typed, expected):
    farm.unit_system = UnitSystem.METRIC
    check(farm, where, typed, expected)


def test_every_length_of_a_house_and_a_recipe_has_a_sense():
    lengths = {field.name for field in (*FIELDS, *RECIPE_FIELDS) if field.kind is FieldKind.LENGTH}
    assert set(SENSES) == lengths
    # What stands in the examples and the new form is plain.
    for field in (*FIELDS, *RECIPE_FIELDS):
        if field.kind is FieldKind.LENGTH and field.usual:
            assert all(SENSES[field.name].holds(field.usual.of(units)) for units in UnitSystem), field.name


@pytest.mark.parametrize(
    ("kind", "typed", "expected"),
    [
        ("tube", "10", 3048),
        ("tube", "126", ["126 in"]),
        ("lumber", "144", ["144 in"]),
        ("film", "100", 30_480),
        ("film", "1200", ["1200 in"]),
    ],
)
def test_a_lot_is_asked_about_by_its_material(organisation, kind, typed, expected):
    material = MaterialFactory(organisation=organisation, kind=kind)
    form = ReceiveForm({"material": str(material.pk), "length": typed}, organisation=organisation)
    form.is_valid()
    asked = list(form.fields["length"].readings)
    assert (asked or float(form.cleaned_data["length"])) == expected


def test_the_page_asks_keeps_all_that_was_typed_and_a_press_answers(signed_in):
    address = reverse("hoops:bender-new")
    typed = {"name": "Wide", "way": "radius", "rated_radius": "6", "rated_span": "150", "owner": "Hazel (invented)"}
    asked = signed_in.post(address, typed)
    page = text_of(asked)
    assert "150: did you mean 150 in? Without a unit it is 150 ft here." in page
    assert '<button name="meant-rated_span" value="150 in">150 in</button>' in page
    assert '<button name="meant-rated_radius" value="6 ft">6 ft</button>' in page
    assert page.index('<button hidden tabindex="-1">') < page.index('name="meant-'), "the Enter key presses no reading"
    form = asked.context["form"]
    assert {name: form[name].value() for name in typed} == typed
    assert not Bender.objects.exists()
    again = signed_in.post(address, typed | {"meant-rated_span": "150 in"})
    assert again.context["form"]["rated_span"].value() == "150 in"
    assert set(again.context["form"].errors) == {"rated_radius"}
    done = signed_in.post(address, typed | {"rated_span": "150 in", "meant-rated_radius": "6 ft"})
    assert done.status_code == 302
    row = Bender.objects.get()
    assert (row.rated_span, row.rated_radius, row.owner) == (INCH * 150, FOOT * 6, "Hazel (invented)")


def test_what_is_stored_is_not_asked_about_again(organisation, signed_in):
    row = Bender.objects.create(
        organisation=organisation, name="B", slug="b", rated_radius=Decimal(50), rated_span=FOOT * 150
    )
    edit = reverse("hoops:bender-edit", args=[row.slug])
    form = signed_in.get(edit).context["form"]
    sent = {name: form[name].value() or "" for name in form.fields if name != "tubes"}
    assert signed_in.post(edit, sent | {"owner": "Hazel (invented)"}).status_code == 302


def test_the_box_asks_as_it_is_left(signed_in):
    ask = {"text": "150", "unit": "ft", "system": "imperial", "low": "1500", "high": "15000"}
    answer = signed_in.get(reverse("common:understood"), ask).json()
    assert answer["question"] == "150: did you mean 150 in? Without a unit it is 150 ft here."
    assert "question" not in signed_in.get(reverse("common:understood"), ask | {"text": "12"}).json()
    assert "question" not in signed_in.get(reverse("common:understood"), ask | {"low": "frog"}).json()
    assert not Lot.objects.exists()
