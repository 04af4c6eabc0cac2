"""The empty project workbook in metres and millimetres: nothing in it is in inches, and its example can be built."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from openpyxl import Workbook, load_workbook

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.fields import FIELDS, FieldKind
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectProblems, project_template, read_project
from farmbuild.workbooks.project_layout import Type
from farmbuild.workbooks.project_units import EMPTY, EXAMPLES, NOTES
from tests.catalogue.test_metric_catalogue import IMPERIAL
from tests.workbooks.books import recalculated

METRIC = UnitSystem.METRIC
FIRST = layout.HEADING_ROW + 1


def opened(units: UnitSystem = METRIC) -> Workbook:
    return load_workbook(io.BytesIO(project_template(units)))


def texts(book: Workbook) -> Iterator[tuple[str, str]]:
    """Every text that a reader may see, and where: cells, and what shows when a cell is entered."""
    for page in book:
        for row in page.iter_rows():
            yield from ((f"{page.title} {cell.coordinate}", str(cell.value)) for cell in row if cell.value)
        for rule in page.data_validations.dataValidation:
            yield from ((f"{page.title} {rule.sqref}", text) for text in (rule.prompt, rule.error) if text)


def test_nothing_in_it_is_in_inches() -> None:
    #: What is offered as an answer, and the kind of material.
    told = {"feet and inches", "lumber"}
    found = [(where, text) for where, text in texts(opened()) if IMPERIAL.search(text)]
    assert [row for row in found if row[1].casefold() not in told and "Lumber: dressed" not in row[1]] == []
    assert len(list(texts(opened()))) > 400


def test_it_has_the_sheets_and_columns_of_the_other_one() -> None:
    metric, imperial = opened(), opened(UnitSystem.IMPERIAL)
    assert metric.sheetnames == imperial.sheetnames
    for page in imperial:
        for at in (1, layout.HEADING_ROW):
            assert [cell.value for cell in page[at]] == [cell.value for cell in metric[page.title][at]]


def test_every_length_has_an_example_in_metres() -> None:
    for sheet in (*layout.SHEETS, None):
        title, fields = (sheet.title, sheet.fields) if sheet else ("Project", layout.PROJECT)
        lengths = {f.name for f in fields if f.type in (Type.LENGTH, Type.LENGTHS) and f.example}
        assert lengths <= set(EXAMPLES.get(title, {})), title
        assert set(EXAMPLES.get(title, {})) <= {f.name for f in fields}, title
    named = {f.name for sheet in layout.SHEETS for f in sheet.fields} | {f.name for f in layout.PROJECT}
    assert set(NOTES) | set(EMPTY) <= named


def test_it_is_the_same_file_each_time_and_the_other_one_stays() -> None:
    assert project_template(METRIC) == project_template(METRIC)
    assert project_template() == project_template(UnitSystem.IMPERIAL)
    assert opened()["Project"].cell(FIRST + 3, 2).value == "metres and millimetres"
    assert opened(UnitSystem.IMPERIAL)["Project"].cell(FIRST + 3, 2).value is None


def test_as_it_is_it_asks_for_what_is_missing() -> None:
    with pytest.raises(ProjectProblems) as caught:
        read_project(project_template(METRIC), "season.xlsx")
    said = {(p.sheet, p.column) for p in caught.value.problems}
    assert {("Project", "Your name"), ("Houses", "")} <= said
    assert ("Project", "Units") not in said


#: Kind and sizes of what the example names, and the length in which it is sold; invented.
NAMED = {
    "tube": ("tube", "40 mm", "2 mm", "6 m"),
    "sleeve": ("tube", "35 mm", "2 mm", "6 m"),
    "post": ("tube", "48,3 mm", "3,2 mm", "6 m"),
    "board": ("lumber", "150 mm", "30 mm", "3 m"),
    "frame": ("lumber", "95 mm", "45 mm", "5 m"),
    "film": ("film", "14 m", "200 µm", "50 m"),
    "channel": ("fixing channel", "", "", "4 m"),
    "anchor": ("anchor", "", "", ""),
}


def _put(page: Any, row: int, values: dict[str, object]) -> None:
    columns = {str(cell.value).removesuffix(" *"): cell.column for cell in page[layout.HEADING_ROW]}
    for heading, value in values.items():
        page.cell(row, columns[heading], value)


def as_in_the_example(change: Callable[[Workbook], None] = lambda book: None) -> bytes:
    """The template filled in with its own example, and with what that names."""
    book = opened()
    for row in range(FIRST, FIRST + len(layout.PROJECT)):
        book["Project"].cell(row, 2, book["Project"].cell(row, 3).value)
    for sheet in layout.SHEETS:
        book[sheet.title].cell(FIRST, 1, "")
    at = FIRST
    wanted = {f.example for f in FIELDS if f.kind is FieldKind.MATERIAL and f.example}
    wanted |= {example for name, example in EXAMPLES["Houses"].items() if name.endswith("_material")}
    wanted -= {f.example for f in FIELDS if f.name in EXAMPLES["Houses"]}
    for code in sorted(wanted - {"tube"}):
        at += 1
        kind, width, thickness, length = NAMED.get(str(code), ("hardware", "", "", ""))
        kind = "fastener" if kind == "hardware" and str(code) in ("screw", "bolt") else kind
        _put(
            book["Materials"],
            at,
            {
                "Material": code,
                "Name": code,
                "Kind": kind,
                "Width or outside diameter": width,
                "Thickness or wall": thickness,
            },
        )
        _put(
            book["Offers"],
            at,
            {
                "Offer": f"o-{code}",
                "Supplier": "pipe",
                "Material": code,
                "Length of one": length,
                "From quantity": 1,
                "Price of one": 3,
            },
        )
    change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_its_own_example_is_a_house_that_plans_to_an_order(tmp_path: Path) -> None:
    filled, out = tmp_path / "season.xlsx", tmp_path / "out"
    filled.write_bytes(as_in_the_example())
    season = read_project(filled.read_bytes(), "season.xlsx")
    (house,) = season.houses
    assert (house.spec.post_span, house.spec.length, house.spec.recipe.radius) == (8000, 24000, 3950)
    assert (season.kerf, season.keep_from, season.buyer.currency) == (3, 600, "EUR")
    call_command("plan", str(filled), "--out", str(out), stdout=io.StringIO(), stderr=io.StringIO())
    plan = json.loads((out / "plan.json").read_text())["plan"]
    assert len(plan["orders"]) == 1 and plan["unmet"] == []
    tubes = next(line for line in plan["orders"][0]["lines"] if line["material"] == "tube")
    # 17 hoops of 2 tubes, purlins and braces; 24 tubes lie in the yard.
    assert tubes["quantity"] >= 34 - 24


def test_what_is_left_empty_is_what_its_notes_say() -> None:
    def emptied(book: Workbook) -> None:
        for row in range(FIRST, FIRST + len(layout.PROJECT)):
            if book["Project"].cell(row, 1).value in ("Saw cut", "Shortest offcut to keep"):
                book["Project"].cell(row, 2).value = None
        _put(book["Houses"], FIRST, {"Door clearance": None, "Spacing of channel screws": None})
        columns = {str(cell.value).removesuffix(" *"): cell.column for cell in book["Houses"][layout.HEADING_ROW]}
        for heading in ("Door clearance", "Spacing of channel screws"):
            book["Houses"].cell(FIRST, columns[heading]).value = None

    season = read_project(as_in_the_example(emptied), "season.xlsx")
    spec = season.houses[0].spec
    assert (season.kerf, season.keep_from) == (3, 600)
    assert (spec.door_clearance, spec.channel_screw_spacing) == (6, 600)

    def in_feet(book: Workbook) -> None:
        emptied(book)
        book["Project"].cell(FIRST + 3, 2).value = "feet and inches"

    season = read_project(as_in_the_example(in_feet), "season.xlsx")
    assert (season.kerf, season.keep_from) == (Decimal("3.175"), Decimal("609.6"))
    assert season.houses[0].spec.door_clearance == Decimal("6.35")


def test_the_command_writes_the_one_asked_for(tmp_path: Path) -> None:
    for units in UnitSystem:
        path = tmp_path / f"{units}.xlsx"
        call_command("project_template", str(path), "--units", units.value, stdout=io.StringIO())
        assert path.read_bytes() == project_template(units)
    with pytest.raises(CommandError, match="invalid choice: 'cubits'"):
        call_command("project_template", str(tmp_path / "no.xlsx"), "--units", "cubits")
    assert not (tmp_path / "no.xlsx").exists()


@pytest.mark.office
def test_it_survives_a_spreadsheet(tmp_path: Path) -> None:
    """Opened and saved by LibreOffice it is the same season, on A4."""
    data = as_in_the_example()
    book = recalculated(data, tmp_path)
    again = (tmp_path / "out" / "book.xlsx").read_bytes()
    assert read_project(again, "season.xlsx") == read_project(data, "season.xlsx")
    assert {page.page_setup.paperSize for page in book} == {9}
