"""Headings that are not known are never dropped in silence, in any file that is read."""

from __future__ import annotations

import io

import pytest
from openpyxl import load_workbook

from farmbuild.measure import Unit
from farmbuild.workbooks.headings import key, nearest, unit_said, with_units
from farmbuild.workbooks.project import ProjectProblems, read_project, write_project
from farmbuild.workbooks.project_layout import PROJECT, SHEETS
from farmbuild.workbooks.reading import Rules, WorkbookError, read_table, unread
from tests.workbooks.books import small_season, xlsx

HEADINGS = {"material": ("Material", "Item"), "quantity": ("Quantity",), "length": ("Length",)}
REQUIRED = {"material", "quantity"}


def read(rows: list[list[object]], rules: Rules | None = None):
    return read_table(xlsx(rows), "stock.xlsx", headings=HEADINGS, required=REQUIRED, rules=rules)


def refused(rows: list[list[object]], rules: Rules | None = None) -> str:
    with pytest.raises(WorkbookError) as caught:
        read(rows, rules)
    return str(caught.value)


@pytest.mark.parametrize(
    "text",
    ["Bend radius, mm", " bend  RADIUS (mm) *", "Bend\nradius [mm]:", "Bend_radius , mm", "bend-radius,\u200b mm"],
)
def test_one_heading_in_many_writings(text: str) -> None:
    assert key(text) == "bend radius, mm"
    assert unit_said(text) is Unit.MILLIMETRE


def test_a_heading_that_says_no_unit() -> None:
    assert unit_said("Length") is unit_said("Tax, percent") is None
    assert "Length, ft" in with_units("Length")


def test_nearest() -> None:
    known = ["Ridge purlins", "Side purlins", "Needed by", "Name"]
    assert nearest("Ridge purlns", known) == "Ridge purlins"
    assert nearest("Side purlin (mm)", known) == "Side purlins"
    assert nearest("neded BY", known) == "Needed by"
    assert nearest("Colour", known) == ""


def test_an_unknown_heading_with_values_is_refused_with_the_nearest() -> None:
    said = refused([["Material", "Quantity", "Lenght"], ["rail", 5, None], ["emt", 7, "10'"]])
    assert "“Lenght” (column C)" in said
    assert "row 3 has “10'” under it" in said
    assert "Did you mean “Length”?" in said


def test_an_unknown_heading_like_nothing_says_how_to_keep_the_column() -> None:
    assert "head it “Note”" in refused([["Material", "Quantity", "Colour"], ["rail", 5, "red"]])


def test_a_second_column_like_one_that_is_there() -> None:
    said = refused([["Material", "Quantity", "Length", "Lengths"], ["rail", 5, "10'", "12'"]])
    assert "There is a column “Length” already." in said


def test_values_without_any_heading_are_refused() -> None:
    assert "Column C has no heading, and row 2 has “12'”" in refused([["Material", "Quantity"], ["rail", 5, "12'"]])
    assert "Column B has no heading" in refused([["Material", None, "Quantity"], ["rail", "x", 5]])


def test_a_row_with_values_under_unknown_headings_alone_is_seen() -> None:
    assert "row 3" in refused([["Material", "Quantity", "Colour"], ["rail", 5], [None, None, 0]])


def test_what_has_no_values_and_own_notes_are_left() -> None:
    table = read([["Material", "Colour", "Note", "Quantity", "notes"], ["rail", None, "x", 5, "y"]])
    assert [row["quantity"].value for row in table.rows] == [5]


def test_a_missing_heading_names_the_one_that_was_meant() -> None:
    assert "“Quantiy” is not known: did you mean “Quantity”?" in refused([["Material", "Quantiy"], ["rail", 5]])


def test_columns_for_people_are_left_but_not_a_mistyped_one() -> None:
    rows = [["Material", "Quantity", "Place"], ["rail", 5, "Rack 1"]]
    assert len(read(rows, unread("Place")).rows) == 1
    rows = [["Material", "Quantity", "Lengths"], ["rail", 5, "12'"]]
    assert "Did you mean “Length”?" in refused(rows, unread("Lengths"))


def test_strange_columns_are_handed_over_where_they_are_asked_for() -> None:
    table = read([["Material", "Quantity", "Colour"], ["rail", 5, "red"]], Rules(collect=True))
    assert [(column.column, column.row, column.heading) for column in table.strange] == [("C", 2, "Colour")]


def test_no_two_headings_of_a_sheet_are_one() -> None:
    for fields in (PROJECT, *(sheet.fields for sheet in SHEETS)):
        keys = [key(field.heading) for field in fields]
        assert len(keys) == len(set(keys))


def changed(change) -> list[str]:
    book = load_workbook(io.BytesIO(write_project(small_season())))
    change(book)
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(ProjectProblems) as caught:
        read_project(out.getvalue(), "season.xlsx")
    return [str(problem) for problem in caught.value.problems]


def head(sheet, heading: str):
    return next(cell for cell in sheet[3] if str(cell.value or "").rstrip(" *") == heading)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.title)
def test_each_mistyped_column_of_the_project_workbook_is_refused_by_name(sheet) -> None:
    """A heading loses a letter, with a value under it: it, and the one that was meant, are named.

    Those that a sheet must have by itself, since their lack is told before anything else; of the rest every second.
    """
    known = {key(field.heading) for field in sheet.fields}
    wrong = {field.heading: field.heading[:2] + field.heading[3:] for field in sheet.fields}
    wrong = {heading: typed for heading, typed in wrong.items() if key(typed) not in known}
    needed = [field.heading for field in sheet.fields if field.required and field.heading in wrong]
    rest = [heading for heading in wrong if heading not in needed]
    for together in filter(None, (*([heading] for heading in needed), rest[::2], rest[1::2])):

        def spoil(book, together=together) -> None:
            page = book[sheet.title]
            row = page.max_row if page.max_row > 3 else 4
            for heading in together:
                cell = next((cell for cell in page[3] if str(cell.value or "").rstrip(" *") == heading), None)
                if cell is None:
                    cell = page.cell(3, page.max_column + 1)
                cell.value = wrong[heading]
                page.cell(row, cell.column).value = "1"

        said = changed(spoil)
        for heading in together:
            typed = wrong[heading][:20]
            meant = [line for line in said if line.startswith(sheet.title) and typed in line and "“" in line]
            assert meant and heading in " ".join(meant), (typed, said)


def test_a_heading_may_say_its_unit() -> None:
    book = load_workbook(io.BytesIO(write_project(small_season())))
    head(book["Recipes"], "Bend radius").value = "Bend radius (mm)"
    column = head(book["Recipes"], "Bend radius (mm)").column
    book["Recipes"].cell(4, column).value = 2000
    out = io.BytesIO()
    book.save(out)
    assert read_project(out.getvalue(), "a.xlsx").houses[0].spec.recipe.radius == 2000


def test_answers_that_are_not_asked_for_and_doubled_ones() -> None:
    def change(book) -> None:
        book["Project"].append(["Saw cutt", '1/4"'])
        book["Project"].append(["Currency", "EUR"])

    said = "\n".join(changed(change))
    assert "“Saw cutt” is nothing that is asked here. Did you mean “Saw cut”?" in said
    assert "has “Currency” already" in said


def test_a_sheet_under_a_name_that_is_nearly_known() -> None:
    def change(book) -> None:
        book["Own rows"].title = "Own row"

    assert "Did you mean “Own rows”?" in "\n".join(changed(change))
