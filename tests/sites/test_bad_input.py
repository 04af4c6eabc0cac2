"""What no field of a house takes: below nothing, nothing where there must be some, unreadable, too large, unknown.

Cases come from fields.py, so a new field is tried without a line of its own, through the form and through the project
workbook, in both unit systems.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from itertools import zip_longest
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from farmbuild.catalogue.models import Material
from farmbuild.measure import UnitSystem
from farmbuild.planning.house.fields import FIELDS, RECIPE_FIELDS, SpecField
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.models import House
from farmbuild.sites.services import create_house
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectProblems, read_project, write_project
from tests.factories import HouseFactory, MaterialFactory
from tests.planning.seasons import BUYER, SITES, TWENTY_RECIPE, season
from tests.planning.seasons import house as planned
from tests.sites.posting import edit_data
from tests.sites.test_every_field import FULL, STOCKED, form_of, rows, stored_values  # noqa: F401

UNITS = pytest.mark.parametrize("units", list(UnitSystem))
HUGE = "9" * 30


def wrong(field: SpecField, may_be_none: bool) -> Iterator[tuple[str, str]]:
    """(what it is, as typed) of one field; materials by code."""
    match field.kind.value:
        case "length":
            yield "below nothing", "-1 mm"
            yield "unreadable", "tall"
            yield "too large", f"{field.largest + 1} mm"
            yield "far too large", f"{HUGE} mm"
            if not may_be_none:
                yield "nothing", "0"
            if field.smallest > 0:
                yield "too small", "0.5 mm"
        case "lengths":
            for what, typed in (("below nothing", "-1 mm"), ("unreadable", "tall"), ("nothing", "0")):
                yield what, typed
                yield f"{what}, second", f"8 ft, {typed}"
            yield "too large", f"{field.largest + 1} mm"
        case "count":
            yield "below nothing", "-1"
            yield "unreadable", "many"
            yield "not whole", "1.5"
            yield "too large", str(int(field.largest) + 1)
            yield "far too large", HUGE
            if field.smallest > 0:
                yield "nothing", "0"
        case "material":
            yield "unknown", "no-such-material"
            yield "of another kind", next(m.code for m in STOCKED if m.kind not in field.materials)
            if not may_be_none:
                yield "nothing", ""
        case "recipe":
            yield "unknown", "no such recipe"
        case "choice":
            yield "unknown", "sideways"
        case "flag":
            yield "unreadable", "perhaps"
        case other:
            raise AssertionError(f"What a field of the kind {other} does not take has to be said here.")


def cases() -> list[tuple[SpecField, str, str]]:
    return [(field, what, typed) for field in FIELDS for what, typed in wrong(field, field.may_be_none(FULL))]


def test_every_field_has_cases() -> None:
    assert {field.name for field, _, _ in cases()} == {field.name for field in FIELDS}


# Form


def together(given: list[tuple[SpecField, str, str]], apart: int = 9) -> Iterator[list[tuple[SpecField, str, str]]]:
    """Of every ninth field one case each, until all had their turn: a form says all that is wrong, at each field."""
    names = list(dict.fromkeys(field.name for field, _, _ in given))
    for first in range(apart):
        of = {name: [case for case in given if case[0].name == name] for name in names[first::apart]}
        yield from ([case for case in turn if case] for turn in zip_longest(*of.values()))


@UNITS
def test_the_form_refuses_at_the_field(organisation, user, rows, units) -> None:  # noqa: F811
    organisation.unit_system = units.value
    organisation.save()

    def told_of(tried: list[tuple[SpecField, str, str]]) -> dict[str, list[str]]:
        typed = {
            field.name: value
            if field.kind.value != "material"
            else str(rows[value].pk)
            if value in rows
            else value and "0"
            for field, _, value in tried
        }
        told = refused(organisation, user, form_of(organisation, FULL, rows, **typed))
        assert told.keys() <= typed.keys(), (tried, told)
        return told

    # A box is ticked or not; only lengths are read otherwise in metric.
    given = [case for case in cases() if case[0].kind.value != "flag"]
    if units is UnitSystem.METRIC:
        given = [case for case in given if case[0].kind.value.startswith("length")]
    taken, alone = [], 0
    for tried in together(given):
        told = told_of(tried)
        for case in tried:
            said = told.get(case[0].name)
            if not said:
                # The form took it: the service says so of the first that it looks at.
                alone += 1
                said = told_of([case]).get(case[0].name)
            if not said or not all(map(good, said)):
                taken.append((*case, said))
    assert taken == []
    assert alone < len(given) / 4
    assert not House.objects.exists()


def refused(organisation, user, form) -> dict[str, list[str]]:
    """What the page would say, by field."""
    if not form.is_valid():
        return dict(form.errors)
    given = dict(form.cleaned_data)
    named = {name: given.pop(name) for name in ("site", "name", "need_date")}
    try:
        create_house(organisation=organisation, user=user, data=given, **named)
    except ValidationError as error:
        return error.message_dict
    return {}


def good(sentence: str) -> bool:
    """It says what to do, as our sentences do."""
    return any(word in sentence for word in ("Type ", "Choose ", "Select a valid choice"))


def test_the_form_refuses_a_material_of_another_organisation(organisation, user, rows) -> None:  # noqa: F811
    for field in FIELDS:
        if field.kind.value != "material":
            continue
        foreign = MaterialFactory(code=f"foreign-{field.name}", kind=field.materials[0].value)
        told = refused(organisation, user, form_of(organisation, FULL, rows, **{field.name: str(foreign.pk)}))
        assert set(told) == {field.name}


def test_the_form_refuses_a_material_that_is_archived(organisation, user, rows) -> None:  # noqa: F811
    for field in FIELDS:
        if field.kind.value != "material":
            continue
        gone = MaterialFactory(organisation=organisation, code=f"gone-{field.name}", kind=field.materials[0].value)
        gone.archived_at = timezone.now()
        gone.save()
        told = refused(organisation, user, form_of(organisation, FULL, rows, **{field.name: str(gone.pk)}))
        assert set(told) == {field.name}


# Workbook


def problems(sheet: str, lines: list[dict[str, str]], units: UnitSystem) -> dict[int, set[str]]:
    """Columns refused, by line, of a project whose houses or recipes are right but for what each line has typed."""
    houses = [planned(f"h{n}", FULL) for n in range(len(lines))]
    if sheet == "Recipes":
        recipes = [replace(TWENTY_RECIPE, name=f"recipe {n}") for n in range(len(lines))]
        houses = [planned(f"h{n}", replace(FULL, recipe=recipe)) for n, recipe in enumerate(recipes)]
    asked = season(*houses, materials=STOCKED, buyer=replace(BUYER, units=units), sites=SITES)
    book = load_workbook(io.BytesIO(write_project(asked)))
    fields = layout.BY_TITLE[sheet]
    first = layout.HEADING_ROW + 1
    for n, line in enumerate(lines):
        for name, typed in line.items():
            book[sheet].cell(first + n, fields.column(name)).value = typed or None
    out = io.BytesIO()
    book.save(out)
    try:
        read_project(out.getvalue(), "project.xlsx")
    except ProjectProblems as refused:
        found: dict[int, set[str]] = {}
        for problem in refused.problems:
            assert problem.sheet == sheet, problem
            assert any(word in problem.sentence for word in ("Type ", "Choose ", "is not on the sheet")), problem
            found.setdefault(problem.row - first, set()).add(problem.column)
        return found
    return {}


def numbers(typed: str) -> Any:
    """A plain number as a spreadsheet keeps it."""
    return int(typed) if typed.lstrip("-").isdigit() and len(typed) < 12 else typed


@UNITS
def test_the_workbook_refuses_at_the_cell(units: UnitSystem) -> None:
    tried = cases()
    found = problems("Houses", [{field.name: typed} for field, _, typed in tried], units)
    for n, (field, what, typed) in enumerate(tried):
        assert found.get(n) == {layout.HOUSES.by_name[field.name].heading}, (field.name, what, typed)


@UNITS
def test_the_workbook_refuses_numbers_that_are_numbers(units: UnitSystem) -> None:
    """A cell that holds -1 and one that holds the text -1 are the same."""
    tried = [case for case in cases() if isinstance(numbers(case[2]), int)]
    assert tried
    found = problems("Houses", [{field.name: numbers(typed)} for field, _, typed in tried], units)
    # A zero that is a number is an empty cell to ``problems``; it is tried as text above.
    for n, (field, what, typed) in enumerate(tried):
        if numbers(typed):
            assert found.get(n) == {layout.HOUSES.by_name[field.name].heading}, (field.name, what, typed)


@UNITS
def test_the_workbook_refuses_what_no_recipe_takes(units: UnitSystem) -> None:
    """Cells that cannot be read first: what a recipe makes is looked at once all can be."""
    tried = [(field, what, typed) for field in RECIPE_FIELDS for what, typed in wrong(field, field.may_be_none())]
    left = [{field.name: typed} for field, _, typed in tried]
    found = problems("Recipes", left, units)
    still = [n for n in range(len(tried)) if n not in found]
    later = problems("Recipes", [left[n] for n in still], units)
    found |= {still[n]: columns for n, columns in later.items()}
    for n, (field, what, typed) in enumerate(tried):
        assert found.get(n) == {layout.RECIPES.by_name[field.name].heading}, (field.name, what, typed)


def test_a_material_that_has_become_of_another_kind_is_told_at_its_field_and_nothing_is_lost(
    signed_in,
    organisation,
    rows,  # noqa: F811
):
    """The list of hinges has it no longer; the house keeps it until another is chosen."""
    house = HouseFactory(site__organisation=organisation, **stored_values(FULL, rows))
    material = house.hinge_material
    Material.objects.filter(pk=material.pk).update(kind=Material.Kind.ANCHOR)
    sent = edit_data(signed_in, house) | {"hinges_per_door": "2"}
    assert sent["hinge_material"] == str(material.pk)
    page = signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent)
    (message,) = page.context["form"].errors["hinge_material"]
    assert f"{material.name} is listed as anchor now." in message and "fastener or hardware" in message
    form = page.context["form"]
    assert (form["hinge_material"].value(), form["hinges_per_door"].value()) == (str(material.pk), "2")
    house.refresh_from_db()
    assert (house.hinge_material_id, house.hinges_per_door) == (material.pk, FULL.hinges_per_door)
    # It is on offer for no new house.
    assert material not in HouseForm(organisation=organisation).fields["hinge_material"].rows
