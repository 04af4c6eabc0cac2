"""Cells, pages and packages as written."""

from __future__ import annotations

import io
import re
import time
import zipfile
from datetime import date
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.reading import as_text, read_table
from farmbuild.workbooks.words import material_size, safe_name
from farmbuild.workbooks.writing import Book, Column, Formula, Look
from tests.planning.seasons import BY_CODE
from tests.workbooks.books import recalculated

RISKY = [
    "=1+1",
    '=HYPERLINK("http://example.org","x")',
    "+1+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1+1",
    "=cmd|'/c calc'!A1",
]
HARMLESS = ["5' 3 1/2\"", "Труба 直径", "#N/A", "TRUE", "1e5", "007", "_x0041_", "a_x000D_b", "<b>&amp;", " both "]


def book_of(values: list[object], **more: object) -> bytes:
    book = Book(title="Test", author="Invented", stamp=date(2027, 2, 1), units=UnitSystem.IMPERIAL)
    sheet = book.sheet("Lines", [Column("Text", 20), Column("Value", 12)], freeze=1, foot="No. 5 & more", **more)
    sheet.headings()
    for value in values:
        sheet.row([value, 1])
    sheet.finish()
    return book.to_bytes()


#: Written when the tests are collected, so that the same content can be written again later on.
EARLIER = book_of(["a", date(2027, 1, 1), Formula("1+1", 2)]), time.monotonic()


def cells_of(data: bytes) -> list[object]:
    return [row[0] for row in load_workbook(io.BytesIO(data))["Lines"].iter_rows(min_row=2)]


@pytest.mark.parametrize("text", RISKY + HARMLESS)
def test_text_is_stored_as_text(text: str) -> None:
    (cell,) = cells_of(book_of([text]))
    assert cell.data_type == "s"
    assert cell.quotePrefix is (text in RISKY)
    with zipfile.ZipFile(io.BytesIO(book_of([text]))) as package:
        assert b"<f>" not in package.read("xl/worksheets/sheet1.xml")


@pytest.mark.office
def test_libreoffice_shows_risky_text_as_it_is(tmp_path) -> None:
    texts = RISKY + HARMLESS
    sheet = recalculated(book_of(texts), tmp_path)["Lines"]
    assert [cell.value for (cell,) in sheet.iter_rows(min_row=2, max_col=1)] == texts


@given(st.lists(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=50), min_size=1))
def test_any_text_reads_back(texts: list[str]) -> None:
    wanted = [text.strip() for text in texts if text.strip() and not re.search("[\ufffe\uffff]", text)]
    table = read_table(
        book_of(wanted), "t.xlsx", headings={"text": ("Text",), "value": ("Value",)}, required={"text", "value"}
    )
    assert [as_text(row["text"]) for row in table.rows] == wanted


def test_characters_that_xml_cannot_hold_become_spaces() -> None:
    (cell,) = cells_of(book_of(["bell\x07 \x00 \ud800 \uffff."]))
    assert cell.value == "bell" + " " * 7 + "."


def test_numbers_dates_and_results_have_real_types() -> None:
    data = book_of([7, Decimal("3.25"), date(2027, 5, 12), True, Formula("B2*2", 2)])
    cells = cells_of(data)
    assert [cell.data_type for cell in cells] == ["n", "n", "d", "b", "f"]
    assert cells[2].value.date() == date(2027, 5, 12)
    assert cells[4].value == "=B2*2"
    assert load_workbook(io.BytesIO(data), data_only=True)["Lines"]["A6"].value == 2


def test_view_and_page() -> None:
    sheet = load_workbook(io.BytesIO(book_of(["a", "b"], landscape=True)))["Lines"]
    assert sheet.freeze_panes == "A2"
    assert sheet.print_area == "'Lines'!$A$1:$B$3"
    assert sheet.print_title_rows == "$1:$1"
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.oddFooter.right.text == "Page &P of &N"
    assert sheet.oddFooter.left.text == "No. 5 && more"
    assert sheet.column_dimensions["A"].width == 20


def test_same_content_gives_the_same_bytes_later_on() -> None:
    first, at = EARLIER
    # Zip times go by two seconds.
    time.sleep(max(0.0, at + 2.1 - time.monotonic()))
    assert book_of(["a", date(2027, 1, 1), Formula("1+1", 2)]) == first
    assert book_of(["b", date(2027, 1, 1), Formula("1+1", 2)]) != first


def test_every_part_is_declared_and_every_relation_leads_somewhere() -> None:
    """ECMA-376 part 2: each part has a content type, and internal relationships name parts of the package."""
    with zipfile.ZipFile(io.BytesIO(book_of(["a"]))) as package:
        names = set(package.namelist())
        types = ElementTree.fromstring(package.read("[Content_Types].xml"))
        declared = {node.get("PartName", "").lstrip("/") for node in types}
        defaults = {node.get("Extension") for node in types}
        for name in names - {"[Content_Types].xml"}:
            assert name in declared or name.rsplit(".", 1)[-1] in defaults, name
        assert declared - {""} <= names
        for name in (n for n in names if n.endswith(".rels")):
            base = name.rsplit("_rels/", 1)[0]
            for relation in ElementTree.fromstring(package.read(name)):
                target = relation.get("Target", "")
                assert (target.lstrip("/") if target.startswith("/") else base + target) in names


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Bristle & Cone, Ltd.", "Bristle-Cone-Ltd"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\Windows\\con", "C-Windows-con"),
        ("  ", "unnamed"),
        ("..", "unnamed"),
        ("ООО «Труба»", "ООО-Труба"),
        ("株式会社パイプ", "株式会社パイプ"),
        ("a\x00b\nc", "a-b-c"),
    ],
)
def test_file_names_from_any_text(text: str, name: str) -> None:
    assert safe_name(text) == name


@given(st.text())
def test_a_file_name_is_never_a_path(text: str) -> None:
    name = safe_name(text)
    assert name and len(name.encode()) <= 60
    assert not set(name) & set('/\\:*?"<>|\0\n\r\t')
    assert name.strip(".") == name


def test_material_sizes_in_either_unit() -> None:
    assert material_size(BY_CODE["rail-1-3-8"], UnitSystem.IMPERIAL) == '1 3/8" outside, 0.065" wall'
    assert material_size(BY_CODE["rail-1-3-8"], UnitSystem.METRIC) == "34.93 mm outside, 1.65 mm wall"
    assert material_size(BY_CODE["lumber-2x4"], UnitSystem.IMPERIAL) == '1 1/2" × 3 1/2"'
    assert material_size(BY_CODE["film-32"], UnitSystem.IMPERIAL) == "32' wide"
    assert material_size(BY_CODE["screw"], UnitSystem.IMPERIAL) == ""


def test_a_look_is_kept_apart_for_each_column() -> None:
    book = Book(title="T", author="I", stamp=date(2027, 2, 1), units=UnitSystem.METRIC)
    sheet = book.sheet("S", [Column("A", 5, Look(number="0.00")), Column("B", 5, Look(number="0"))], freeze=1)
    sheet.row([1, 2])
    sheet.row([3, 4])
    rows = load_workbook(io.BytesIO(book.to_bytes()))["S"].iter_rows()
    assert [[(c.value, c.number_format) for c in row] for row in rows] == [
        [(1, "0.00"), (2, "0")],
        [(3, "0.00"), (4, "0")],
    ]
