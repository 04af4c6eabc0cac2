"""The sheet of rows that houses take besides what their parts take."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.own_rows import OwnRow, Per
from farmbuild.planning.inputs import Season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectProblems, read_project, write_project
from tests.planning.seasons import inches
from tests.workbooks.books import small_season

ROWS = {
    "A": (
        OwnRow("screw", Decimal("0.333"), Per.FOOT, note="every third foot, and more"),
        OwnRow("lumber-2x4", Decimal(2), Per.END, inches("18.5"), "ends"),
    ),
    "C": (OwnRow("screw", Decimal(100_000)),),
}


def asked(units: UnitSystem = UnitSystem.IMPERIAL) -> Season:
    plain = small_season(units)
    houses = [replace(row, spec=replace(row.spec, own_rows=ROWS.get(row.ref, ()))) for row in plain.houses]
    return replace(plain, houses=tuple(houses))


def read(season: Season, change: Callable[[Any], object]) -> Season:
    book = load_workbook(io.BytesIO(write_project(season)))
    change(book)
    out = io.BytesIO()
    book.save(out)
    return read_project(out.getvalue(), "season.xlsx")


@pytest.mark.parametrize("units", list(UnitSystem))
def test_rows_come_back_with_their_house_in_their_order(units: UnitSystem) -> None:
    assert read(asked(units), lambda book: None) == asked(units)


def test_a_workbook_that_was_filled_in_before_there_was_the_sheet_reads_as_before() -> None:
    def drop(book: Workbook) -> None:
        del book["Own rows"]

    assert read(asked(), drop) == small_season()


def test_empty_cells_mean_for_the_house_and_no_work() -> None:
    def empty(book: Workbook) -> None:
        sheet = book["Own rows"]
        sheet.delete_rows(5, 9)
        for name in ("per", "length", "step", "note"):
            sheet.cell(4, layout.OWN_ROWS.column(name)).value = None

    (house, *others) = read(asked(), empty).houses
    assert house.spec.own_rows == (OwnRow("screw", Decimal("0.333")),)
    assert not any(other.spec.own_rows for other in others)


@pytest.mark.parametrize(
    ("row", "name", "value", "said"),
    [
        (4, "house", "Z", "Own rows, row 4, House: “Z” is not on the sheet Houses."),
        (4, "house", None, "Own rows, row 4, House: This cell is empty."),
        (4, "material", "tape", "Own rows, row 4, Material: “tape” is not on the sheet Materials."),
        (4, "material", None, "Own rows, row 4, Material: This cell is empty."),
        (5, "quantity", 0, "Own rows, row 5, Quantity: Type a quantity above 0"),
        (5, "quantity", -1, "Own rows, row 5, Quantity: -1 is below zero"),
        (5, "quantity", None, "Own rows, row 5, Quantity: This cell is empty."),
        (5, "quantity", "some", "Own rows, row 5, Quantity: "),
        (5, "quantity", "0.3333", "Own rows, row 5, Quantity: “0.3333” has more than 3 decimals."),
        (5, "quantity", 100_001, "Own rows, row 5, Quantity: Type a quantity of at most 100,000."),
        (5, "per", "moon", "Own rows, row 5, For each: “moon” is not one of the choices."),
        (5, "length", None, "Own rows, row 5, Length of each piece: 2x4 is bought by length."),
        (4, "length", "6 in", "Own rows, row 4, Length of each piece: joint screw is counted and has no length."),
        (5, "length", "long", "Own rows, row 5, Length of each piece: “long” cannot be read as a length"),
        (5, "step", "paint", "Own rows, row 5, Used in: “paint” is not one of the choices."),
        (5, "note", "x" * 201, "Own rows, row 5, What it is for: This text has 201 characters; 200 is the most"),
    ],
)
def test_a_problem_is_told_with_its_place(row: int, name: str, value: object, said: str) -> None:
    def spoil(book: Workbook) -> None:
        book["Own rows"].cell(row, layout.OWN_ROWS.column(name)).value = value

    with pytest.raises(ProjectProblems) as caught:
        read(asked(), spoil)
    (problem,) = map(str, caught.value.problems)
    assert problem.startswith(said)
