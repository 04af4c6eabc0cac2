"""The form of a house: what stands open and what is folded, in which unit each length is read, and no nought in it."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.fields import DEFAULT_UNITS, LengthFormField, LengthListFormField, format_typed
from farmbuild.measure import UnitSystem, bare_is_same, parse_length
from farmbuild.planning.house.fields import FIELDS, FieldKind, sections
from farmbuild.sites.forms import OPEN, HouseForm
from farmbuild.sites.models import House
from farmbuild.sites.services import prepare_starter
from farmbuild.sites.starters import starter_named, starters_in
from tests.factories import HouseFactory, MaterialFactory, RecipeFactory, SiteFactory
from tests.reading import text_of
from tests.sites.posting import edit_data, sent_by

pytestmark = pytest.mark.django_db
UNITS = pytest.mark.parametrize("units", list(UnitSystem))
LENGTHS = [field for field in FIELDS if field.kind in (FieldKind.LENGTH, FieldKind.LENGTHS)]
#: Sizes of the trade in both systems, mm: each is shown in every box.
SIZES = ("6.35", "50", "99", "100", "152.4", "304.8", "609.6", "914.4", "1200", "2032", "3657.6", "3810", "14630.4")


def bare(text: str) -> str:
    """The number alone, as whoever types it again without its unit would."""
    return text.removesuffix("mm").removesuffix("m").rstrip("'\" ")


def shown(field, size: Decimal) -> tuple[str, str]:
    """What stands in the box, and at its end."""
    value = field.prepare_value([str(size)] if isinstance(field, LengthListFormField) else size)
    return value, field.widget.get_context("x", value, {"id": "x"})["widget"]["unit"]


@UNITS
@pytest.mark.parametrize("size", SIZES)
def test_what_a_box_shows_is_read_the_same_without_its_unit_or_the_box_says_otherwise(organisation, units, size):
    organisation.unit_system = units.value
    form = HouseForm(organisation=organisation)
    for row in LENGTHS:
        field = form.fields[row.name]
        value, unit = shown(field, Decimal(size))
        assert parse_length(value, field.unit) == Decimal(size), row.name
        if unit.startswith("without a unit: "):
            # Feet and inches, or a length that the unit of the box does not say exactly.
            assert "' " in value or (units is UnitSystem.IMPERIAL and value.endswith(" mm")), (row.name, value)
        else:
            assert parse_length(bare(value), field.unit) == Decimal(size), (row.name, value, unit)
        said = unit.removeprefix("without a unit: ")
        assert said in {"in": "in", "ft": "ft", "mm": "mm", "m": "mm, or m below 100"}[field.unit.value]


def test_three_feet_stand_as_36_inches_where_a_bare_number_is_inches(organisation):
    field = HouseForm(organisation=organisation).fields["front_door_width"]
    assert shown(field, Decimal("914.4")) == ('36"', "in")
    assert field.clean("36") == Decimal("914.4")
    spacing = HouseForm(organisation=organisation).fields["spacing_wanted"]
    assert shown(spacing, Decimal("152.4")) == ("0' 6\"", "without a unit: ft")


@given(
    st.integers(0, 10**11).map(lambda microns: Decimal(microns).scaleb(-6)), st.sampled_from(UnitSystem), st.booleans()
)
def test_no_box_shows_what_would_be_read_otherwise_in_silence(length, system, small):
    unit = DEFAULT_UNITS[small][system]
    text = format_typed(length, unit, system)
    assert parse_length(text, unit) == length
    if bare_is_same(text, unit):
        assert parse_length(bare(text), unit) == length


# What stands open, and what is folded


@pytest.fixture
def tunnel(organisation, user):
    values = prepare_starter(organisation=organisation, user=user, starter=starter_named("low-tunnel-3-4"))
    return HouseFactory(organisation=organisation, site=SiteFactory(organisation=organisation), **values)


@pytest.fixture
def full(organisation, user):
    values = prepare_starter(organisation=organisation, user=user, starter=starter_named("12-ft-house"))
    return HouseFactory(organisation=organisation, site=SiteFactory(organisation=organisation), **values)


def page_of(client, house: House):
    return client.get(reverse("sites:house-edit", args=[house.slug]))


def lines(response) -> dict[str, str]:
    return {part.title: part.words for part in response.context["folded"].parts}


def test_every_field_stands_once_open_or_folded(signed_in, full):
    folded = page_of(signed_in, full).context["folded"]
    names = [field.name for field in folded.asked] + [field.name for part in folded.parts for field in part.fields]
    assert sorted(names) == sorted(["site", "name", "need_date", *(field.name for field in FIELDS)])
    assert [field.name for field in folded.asked] == list(OPEN)


def test_every_folded_section_has_a_line_of_its_own_part(signed_in, full):
    said = lines(page_of(signed_in, full))
    assert set(said) == set(sections()) - {"Size and hoops"}
    assert said["Hip and base boards"].startswith("hip boards: ") and " or " in said["Hip and base boards"]
    assert all(said.values())


def test_a_tunnel_shows_no_nought_and_says_none_of_what_it_has_not(signed_in, tunnel):
    response = page_of(signed_in, tunnel)
    form = response.context["form"]
    noughts = {bound.name: bound.value() for bound in form if str(bound.value()).strip("'\" m") in ("0", "0.0")}
    assert noughts == {}
    said = lines(response)
    for title in ("Purlins", "Hip and base boards", "End walls and doors", "Corner braces"):
        assert said[title] == "none", title
    assert " 0 " not in " ".join(said.values())


@UNITS
def test_an_empty_box_is_none_and_saving_what_is_shown_changes_nothing(signed_in, organisation, tunnel, units):
    organisation.unit_system = units.value
    organisation.save()
    before = {field.name: getattr(tunnel, field.name) for field in FIELDS}
    sent = {name: "" for name in HouseForm(organisation=organisation).fields if name not in ("opened",)}
    sent |= edit_data(signed_in, tunnel)
    assert signed_in.post(reverse("sites:house-edit", args=[tunnel.slug]), sent).status_code == 302
    tunnel.refresh_from_db()
    assert {field.name: getattr(tunnel, field.name) for field in FIELDS} == before


def test_a_refused_form_opens_the_part_with_the_error_alone_and_goes_to_its_field(signed_in, full):
    sent = edit_data(signed_in, full) | {"brace_length": "tall"}
    response = signed_in.post(reverse("sites:house-edit", args=[full.slug]), sent)
    parts = response.context["folded"].parts
    assert [part.title for part in parts if part.wrong] == ["Corner braces"]
    page = text_of(response)
    assert '<details class="part" id="part-corner-braces" open>' in page
    assert '<details class="part" id="part-film">' in page
    (box,) = [tag for tag in page.split("<input")[1:] if 'name="brace_length"' in tag.split(">")[0]]
    assert "autofocus" in box.split(">")[0]
    assert lines(response)["Corner braces"].startswith("to correct: ")


def test_what_the_service_refuses_opens_its_part_too(signed_in, tunnel):
    """A door in a house without a framed wall: nothing in the open fields says what is missing."""
    sent = edit_data(signed_in, tunnel) | {"brace_count": "2", "brace_length": '72"'}
    response = signed_in.post(reverse("sites:house-edit", args=[tunnel.slug]), sent)
    assert [part.title for part in response.context["folded"].parts if part.wrong] == ["Corner braces"]
    assert response.context["form"]["brace_count"].value() == "2"


def test_a_line_says_what_was_typed_not_what_is_stored(signed_in, full):
    sent = edit_data(signed_in, full) | {"side_purlins": "4", "name": ""}
    response = signed_in.post(reverse("sites:house-edit", args=[full.slug]), sent)
    assert "4 side" in lines(response)["Purlins"]


def test_a_blank_house_asks_its_recipe_and_has_nothing_folded_in_it(signed_in, organisation):
    SiteFactory(organisation=organisation)
    RecipeFactory(organisation=organisation)
    response = signed_in.get(reverse("sites:house-create", args=["blank-house"]))
    assert set(lines(response).values()) == {"none"}
    assert response.context["form"]["recipe"].value() is None


def test_a_row_of_its_own_that_is_wrong_opens_them(signed_in, full):
    sent = edit_data(signed_in, full)
    rows = {"rows-TOTAL_FORMS": "1", "rows-INITIAL_FORMS": "0", "rows-0-quantity": "many", "rows-0-per": "house"}
    page = text_of(signed_in.post(reverse("sites:house-edit", args=[full.slug]), sent | rows))
    assert '<details class="part" id="part-own-rows" open>' in page
    assert '<details class="part" id="part-own-rows">' in text_of(page_of(signed_in, full))


def test_lengths_of_new_houses_are_empty_where_there_are_none(organisation):
    form = HouseForm(organisation=organisation)
    for name, field in form.fields.items():
        if isinstance(field, LengthFormField):
            assert form[name].value() != 0, name
    assert sent_by(form)["door_clearance"] == '1/4"'


def test_the_form_asks_no_more_than_it_did(signed_in, full):
    # What the rows say is asked by two, before and after; opened again, the form stands.
    for most in (14, 8):
        with CaptureQueriesContext(connection) as asked:
            page_of(signed_in, full)
        assert len(asked) <= most, [query["sql"][:120] for query in asked]


# Beginning a house


@UNITS
def test_starters_are_drawn_at_one_scale_beside_a_person(signed_in, organisation, units):
    """One pixel is as many millimetres in each: the sheets are equally wide, and so are spans by their houses."""
    SiteFactory(organisation=organisation)
    organisation.unit_system = units.value
    organisation.save()
    page = text_of(signed_in.get(reverse("sites:house-new")))
    boxes = [tuple(map(float, box.split())) for box in re.findall(r'<svg[^>]*viewBox="([^"]+)"', page)]
    drawn = [starter for starter in starters_in(units.value) if starter.recipe]
    assert len(boxes) == len(drawn) >= 3 and {box[2] for box in boxes} == {360.0}
    heads = [float(r) for r in re.findall(r'<circle class="seen"[^>]* r="([\d.]+)"', page)]
    assert len(heads) == len(drawn) and len(set(heads)) == 1
    # The ground line comes after its hatching: the span and 6 % more at either side.
    grounds = [
        float(b) - float(a)
        for a, b in re.findall(
            r'<path class="thin hatch"[^>]*/><line class="cut" x1="([-\d.]+)" y1="0" x2="([-\d.]+)"', page
        )
    ]
    scales = [
        ground / (1.12 * float(starter.values["post_span"])) for ground, starter in zip(grounds, drawn, strict=True)
    ]
    assert max(scales) == pytest.approx(min(scales), rel=1e-3)


def test_a_starter_is_one_press_away(signed_in, organisation):
    SiteFactory(organisation=organisation)
    for starter in starters_in(organisation.unit_system):
        answer = signed_in.post(reverse("sites:house-new"), {"starter": starter.slug}, follow=True)
        assert answer.status_code == 200 and "folded" in answer.context


def test_a_house_like_another_begins_with_its_whole_spec_and_rows(signed_in, organisation, full):
    strap = MaterialFactory(organisation=organisation, name="Strap", kind="hardware")
    full.own_rows.create(material=strap, quantity=2, per="house", position=0)
    assert f"Like {full.name}" in text_of(signed_in.get(reverse("sites:house-new")))
    address = reverse("sites:house-like", args=[full.slug])
    response = signed_in.get(address)
    form, rows = response.context["form"], response.context["rows"]
    assert form["name"].value() != full.name
    sent = sent_by(form) | sent_by(rows.management_form)
    sent |= {f"rows-0-{name}": str(rows.forms[0][name].value() or "") for name in rows.forms[0].fields}
    sent.pop("rows-0-remove")
    assert signed_in.post(address, sent).status_code == 302
    made = House.objects.exclude(pk=full.pk).get()
    assert {field.name: getattr(made, field.name) for field in FIELDS} == {
        field.name: getattr(full, field.name) for field in FIELDS
    }
    assert [row.material for row in made.own_rows.all()] == [strap]


def test_a_house_like_one_whose_material_is_archived_asks_for_another(signed_in, organisation, full):
    full.film_material.archived_at = timezone.now()
    full.film_material.save()
    form = signed_in.get(reverse("sites:house-like", args=[full.slug])).context["form"]
    assert form["film_material"].value() is None


def test_no_house_begins_like_one_of_another_organisation(signed_in):
    other = HouseFactory()
    assert signed_in.get(reverse("sites:house-like", args=[other.slug])).status_code == 404
    assert other.name not in text_of(signed_in.get(reverse("sites:house-new")))


def test_a_list_of_lengths_says_so_too_where_one_of_them_reads_otherwise_without_its_unit(organisation):
    field = HouseForm(organisation=organisation).fields["hip_board_lengths"]
    assert shown(field, Decimal("2438.4")) == ("8'", "ft")
    value = field.prepare_value(["2438.4", "2590.8"])
    assert value == "8'; 8' 6\""
    assert field.widget.get_context("x", value, {"id": "x"})["widget"]["unit"] == "without a unit: ft"


def test_rows_of_its_own_that_are_wrong_say_so_in_their_line_and_take_the_hand(signed_in, full):
    rows = {"rows-TOTAL_FORMS": "1", "rows-INITIAL_FORMS": "0", "rows-0-quantity": "many", "rows-0-per": "house"}
    response = signed_in.post(reverse("sites:house-edit", args=[full.slug]), edit_data(signed_in, full) | rows)
    assert response.context["folded"].own_rows.startswith("to correct: Row 1, Quantity: ")
    (box,) = [tag for tag in text_of(response).split("<input")[1:] if 'name="rows-0-quantity"' in tag.split(">")[0]]
    assert "autofocus" in box.split(">")[0]
    drawn = signed_in.post(reverse("sites:house-draw", args=[full.slug]), edit_data(signed_in, full) | rows).json()
    assert drawn["wrong"] == ["own-rows"] and drawn["views"]


def test_a_refused_form_that_cannot_be_drawn_says_why_and_draws_again_when_it_can(signed_in, full):
    address = reverse("sites:house-edit", args=[full.slug])
    sent = edit_data(signed_in, full) | {"post_span": "40"}
    response = signed_in.post(address, sent)
    assert not response.context["picture"].views and "Not drawn yet. The hoop is " in text_of(response)
    response = signed_in.post(address, sent | {"post_span": "11", "name": ""})
    assert "post span 11" in text_of(response), "as typed, though it is not stored"
