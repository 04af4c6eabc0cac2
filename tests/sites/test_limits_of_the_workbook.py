"""What a form of the site refuses, the project workbook refuses too, field by field, and the other way round.

Each column of the workbook has a field of a form, or says here why not. What lies just past a limit is typed in both.
"""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from openpyxl import load_workbook

from farmbuild.catalogue.forms import MaterialForm, OfferForm, PriceForm, SupplierForm
from farmbuild.measure import UnitSystem
from farmbuild.orgs.forms import OrganisationForm
from farmbuild.planning.house.checks import check_spec
from farmbuild.sites.bridge import FIELDS, RECIPE_BY_NAME, FieldKind
from farmbuild.sites.forms import HouseForm, SiteForm
from farmbuild.sites.models import House
from farmbuild.sites.own_rows import OwnRowForm
from farmbuild.stock.forms import ReceiveForm
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.cells import Cell, CellError
from farmbuild.workbooks.project import ProjectProblems, read_project, write_project
from farmbuild.workbooks.project_layout import Type
from farmbuild.workbooks.project_read import _Reading
from tests.workbooks.books import small_season

pytestmark = pytest.mark.django_db

#: Sheet to the form of its rows, and names that differ there.
FORMS = {
    "Project": (OrganisationForm, {"units": "unit_system", "prices": "prices_include_tax"}),
    "Sites": (SiteForm, {}),
    "Materials": (MaterialForm, {}),
    "Houses": (HouseForm, {}),
    "Own rows": (OwnRowForm, {}),
    "Suppliers": (SupplierForm, {}),
    "Offers": (OfferForm, {}),
    "Stock": (ReceiveForm, {"place": "place_name", "ref": "reference"}),
}
#: Columns that no form has a box for.
WITHOUT = {
    ("Sites", "code"): "made of the name on the site",
    ("Houses", "ref"): "made of the name on the site",
    ("Own rows", "house"): "the house is that of the page",
    ("Offers", "ref"): "an offer of the site has no name",
    ("Offers", "supplier"): "the supplier is that of the page",
    ("Stock", "available_from"): "what is on its way is an order on the site",
    ("Project", "delivery_site"): "chosen with the plan",
    ("Project", "as_of"): "the day of a plan is refused where plans are made, from 2000 to 2100 too",
}
#: Values that one place takes on purpose.
TAKEN = {
    ("Own rows", "quantity", "-1"): "what a quantity may be is said by planning, to both",
    ("Own rows", "quantity", "1000000000"): "the same",
    ("Stock", "quantity", "0"): "a lot that is used up; nothing of nothing is received",
}


def form_of(sheet: str, name: str):
    if sheet == "Offers" and name.startswith(("from_", "price_")):
        return PriceForm, "from_quantity" if name.startswith("from_") else "unit_price"
    form, names = FORMS[sheet]
    return form, names.get(name, name)


def past_the_limits(field: layout.Field) -> list[object]:
    """Just past what each type of column has for limits; house fields have theirs in planning."""
    match field.type:
        case Type.DAY:
            return ["1890-01-01", "9999-12-31", field.days.first.replace(year=field.days.first_year - 1).isoformat()]
        case Type.COUNT:
            least = ["0"] if field.least else []
            return ["-1", "1.5", "1000000000", *least, *([str(field.most + 1)] if field.most else [])]
        case Type.MONEY | Type.QUANTITY:
            return ["-1", "1." + "1" * (field.places + 1), "1000000000"]
        case Type.PERCENT:
            return ["-1", "100.001", "1." + "1" * (field.places + 1)]
        case Type.LENGTH:
            return ["-1 mm", "abc", "200 km"]
        case Type.TEXT | Type.LONG_TEXT if field.most and not field.refers:
            return ["x" * (field.most + 1)]
        case _:
            return []


def within(field: layout.Field) -> list[object]:
    match field.type:
        case Type.DAY:
            return [field.days.first.isoformat(), field.days.last.isoformat()]
        case Type.COUNT:
            return [str(field.least), *([str(field.most)] if field.most else [])]
        case Type.PERCENT:
            return ["0", "100"]
        case Type.MONEY:
            return ["0", "1." + "1" * field.places]
        case Type.TEXT if field.most and not field.refers and field.name not in ("code", "currency"):
            return ["x" * field.most]
        case _:
            return []


CASES = [
    (sheet, field)
    for sheet, fields in [("Project", layout.PROJECT), *((table.title, table.fields) for table in layout.SHEETS)]
    for field in fields
    if not field.refers and (past_the_limits(field) or within(field)) and (sheet, field.name) not in WITHOUT
]


def as_read(field: layout.Field, value: object) -> list[str]:
    """What is said of one cell alone."""
    reading = _Reading(None, print)
    reading.currency = "USD"
    try:
        reading._value(field, Cell(value), None)
    except CellError as error:
        return [str(error)]
    return []


def in_the_workbook(sheet: str, field: layout.Field, value: object) -> list[str]:
    book = load_workbook(io.BytesIO(BOOK))
    page = book[sheet]
    if sheet == "Project":
        row = layout.HEADING_ROW + 1 + [f.name for f in layout.PROJECT].index(field.name)
        column = 2
    else:
        cell = next((cell for cell in page[3] if str(cell.value or "").rstrip(" *") == field.heading), None)
        if cell is None:
            cell = page.cell(3, page.max_column + 1, field.heading)
        row, column = 4, cell.column
        if sheet == "Own rows":
            for name, text in (("house", "A"), ("material", "screw"), ("quantity", 1)):
                page.cell(4, layout.OWN_ROWS.column(name)).value = text
    page.cell(row, column).value = value
    out = io.BytesIO()
    book.save(out)
    try:
        read_project(out.getvalue(), "a.xlsx")
    except ProjectProblems as error:
        return [problem.sentence for problem in error.problems if problem.column == field.heading]
    return []


BOOK = write_project(small_season())


def on_the_form(sheet: str, field: layout.Field, value: object, organisation) -> list[str]:
    form_class, name = form_of(sheet, field.name)
    more = {"instance": organisation} if form_class is OrganisationForm else {}
    if form_class is OwnRowForm:
        more["materials"] = {}
    data = {"decimal_sign": ".", "unit_system": "imperial", name: value}
    form = form_class(data, organisation=organisation, **more)
    assert name in form.fields, f"{field.heading} has no box on {form_class.__name__}: add it, or say why not"
    form.is_valid()
    return list(form.errors.get(name, []))


def test_every_field_of_a_house_and_of_a_recipe_has_its_column() -> None:
    assert {field.name for field in FIELDS} < set(layout.HOUSES.by_name)
    assert set(RECIPE_BY_NAME) < set(layout.RECIPES.by_name)


@pytest.mark.parametrize(("sheet", "field"), CASES, ids=lambda case: getattr(case, "name", case))
def test_one_place_refuses_what_the_other_does(sheet: str, field: layout.Field, organisation) -> None:
    if sheet == "Benders":
        pytest.skip("its form works sizes out of each other; what it stores goes through the same service")
    if sheet == "Recipes" or (sheet == "Houses" and field.name not in ("name", "need_date")):
        pytest.skip("held by planning for form and workbook alike: see below")
    for value in past_the_limits(field):
        said = as_read(field, value), on_the_form(sheet, field, value, organisation)
        assert all(said) or (sheet, field.name, value) in TAKEN, (value, said)
    for value in within(field):
        said = as_read(field, value), on_the_form(sheet, field, value, organisation)
        assert not any(said) or (sheet, field.name, value) in TAKEN, (value, said)


def test_counts_of_a_house_have_one_limit() -> None:
    """Form and workbook hand them to one check, which refuses one more than the most, and one less than the least."""
    spec = small_season().houses[0].spec
    materials = {material.code: material for material in small_season().materials}
    counts = [field for field in FIELDS if field.kind is FieldKind.COUNT]
    assert len(counts) > 10
    for field in counts:
        stored = House._meta.get_field(field.name)
        for count in (int(field.largest) + 1, *([int(field.smallest) - 1] if field.smallest else [])):
            said = check_spec(replace(spec, **{field.name: count}), materials, UnitSystem.IMPERIAL)
            assert field.name in [problem.field for problem in said]
            with pytest.raises(ValidationError):
                stored.clean(count, None)


def test_the_same_words_for_days_walls_and_saw_cuts(organisation) -> None:
    by_name = {field.name: field for field in layout.PROJECT}
    wide = in_the_workbook("Project", by_name["kerf"], '36"')
    assert wide == on_the_form("Project", by_name["kerf"], '36"', organisation)
    assert wide == ["A saw cut of 3' is wider than any blade. Type at most 1\"."]
    need = layout.HOUSES.by_name["need_date"]
    for day, words in ((date(1890, 1, 1), "Type a day from 2000 on."), (date(9999, 1, 1), "Type a day up to 2100.")):
        [said] = in_the_workbook("Houses", need, day)
        assert words in said
        assert on_the_form("Houses", need, day.isoformat(), organisation) == [words]
    [wall] = in_the_workbook("Materials", layout.MATERIALS.by_name["thickness"], '9"')
    assert "leaves no bore in a tube" in wall
