"""Whole files: tables found, and every kind of file that must be refused with a sentence."""

from __future__ import annotations

import datetime
import io
import re
import struct
import zipfile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.workbooks import packages
from farmbuild.workbooks.reading import Book, WorkbookError, as_date, as_quantity, read_table
from tests.size import examples
from tests.workbooks.books import patched, xlsx

HEADINGS = {"material": ("Material", "Item"), "quantity": ("Quantity",), "length": ("Length",)}
REQUIRED = {"material", "quantity"}
SHEET1 = "xl/worksheets/sheet1.xml"


def read(data: bytes, name: str = "stock.xlsx", **more: object):
    return read_table(data, name, headings=HEADINGS, required=REQUIRED, **more)


def refused(data: bytes, name: str = "stock.xlsx", **more: object) -> str:
    with pytest.raises(WorkbookError) as caught:
        read(data, name, **more)
    return str(caught.value)


def test_table_is_found_under_a_title_whatever_the_order_and_case() -> None:
    data = xlsx(
        [["Our yard"], [], ["quantity *", "Note", " ITEM"], [5, "seen by nobody", "rail"], [], [7, None, "emt"]]
    )
    table = read(data)
    assert (table.sheet, table.heading_row) == ("Stock", 3)
    assert table.columns == {"quantity": "A", "material": "C"}
    assert [(row.number, row["material"].text, row["quantity"].value) for row in table.rows] == [
        (4, "rail", 5),
        (6, "emt", 7),
    ]
    assert table.rows[0]["length"].blank


def test_headings_are_looked_for_in_twenty_rows() -> None:
    head = [["Material", "Quantity"], ["rail", 1]]
    assert read(xlsx([["note"]] * 19 + head)).heading_row == 20
    assert "needs columns headed “Material” and “Quantity”. The headings found are “note”." in refused(
        xlsx([["note"]] * 20 + head)
    )
    assert "has nothing in its first 20 rows" in refused(xlsx([[]] * 20 + head))


def test_columns_up_to_the_256th_are_read() -> None:
    def wide(at: int) -> bytes:
        return xlsx([["Material", *[None] * (at - 2), "Quantity"], ["rail", *[None] * (at - 2), 7]])

    table = read(wide(256))
    assert (table.columns["quantity"], table.rows[0]["quantity"].value) == ("IV", 7)
    assert "needs a column headed “Quantity”" in refused(wide(257))


def test_what_stands_over_the_headings_is_kept_apart() -> None:
    book = Book(xlsx([["Our yard"], ["at the creek", 5], ["Material", "Quantity"], ["rail", 1]]), "stock.xlsx")
    above = book.above(book.table(headings=HEADINGS, required=REQUIRED))
    assert [[cell.text for cell in row] for row in above] == [["Our yard"], ["at the creek", "5"]]


def test_the_row_with_the_most_headings_is_the_one_that_lacks_some() -> None:
    assert refused(xlsx([["Length"], ["Item", "Length"], ["Length"]])) == (
        "The sheet “Stock” of stock.xlsx needs a column headed “Quantity”. The headings found are “Item” and “Length”."
    )


def test_the_delimiter_is_the_one_that_makes_the_most_headings() -> None:
    table = read(b"Material;Quantity;Length;Notes\nrail, grey;5;2,5;1\n", "lots.csv")
    assert (table.rows[0]["material"].text, table.rows[0]["quantity"].text) == ("rail, grey", "5")


def test_without_required_fields_any_one_is_enough() -> None:
    table = read_table(xlsx([["x"], ["Length"], ["3 m"]]), "a.xlsx", headings=HEADINGS, required=())
    assert (table.heading_row, len(table.rows)) == (2, 1)


def test_first_sheet_with_the_headings_is_taken_and_a_named_one_is_kept_to() -> None:
    data = xlsx([["Material", "Quantity"], ["rail", 1]], title="Lots", more=["Cover"])
    assert read(data).sheet == "Lots"
    assert read(data, sheet="lots").sheet == "Lots"
    assert refused(data, sheet="Cover").startswith("The sheet “Cover” of stock.xlsx has nothing")


def test_formula_and_error_cells_are_flagged() -> None:
    row = read(xlsx([["Material", "Quantity", "Length"], ["=1+1", "#N/A", "=A2"]])).rows[0]
    assert [row[f].formula for f in HEADINGS] == [True, False, True]
    assert row["quantity"].error


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_text_file(delimiter: str, encoding: str) -> None:
    lines = [["Material", "Quantity"], ['"Рейка; 1,5 ""наруж""\nдлинная"', "12"], ["竹", "3"]]
    text = "\r\n".join(delimiter.join(row) for row in lines)
    table = read(text.encode(encoding), "lots.csv")
    assert [row["material"].text for row in table.rows] == ['Рейка; 1,5 "наруж"\nдлинная', "竹"]
    assert [row.number for row in table.rows] == [2, 4]
    assert [as_quantity(row["quantity"]) for row in table.rows] == [12, 3]


def test_text_file_of_an_older_windows_program() -> None:
    text = "Material;Quantity\r\nRohr 1½″ – verzinkt, Größe “M” für 12 €;5\r\n".replace("″", "’’")
    table = read(text.encode("cp1252"), "lots.csv")
    assert table.rows[0]["material"].text == "Rohr 1½’’ – verzinkt, Größe “M” für 12 €"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("рейка", "cp1251"),
        ("szyna łąkowa", "cp1250"),
        ("grüne Schiene", "mac_roman"),
        ("角パイプ", "shift_jis"),
        ("ράγα", "cp1253"),
    ],
)
def test_text_in_another_code_is_refused_and_not_garbled(text: str, code: str) -> None:
    data = f"Material;Quantity\n{text};5\n".encode(code)
    assert "Save it as .xlsx, or as .csv with the encoding UTF-8." in refused(data, "lots.csv")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "Material,Length,Quantity\nrail,2,5,10\n",
            "Row 2 of lots.csv has 4 cells, where 3 have a heading. Put a comma",
        ),
        # Emptied behind, the parted number would fill the row.
        ("Material,Quantity,Length\nrail,2,5,\n", "Row 2 of lots.csv has 4 cells, where 3 have a heading."),
        ("Material,Quantity,Length\nrail,2\n", "Row 2 of lots.csv has 2 cells, where 3 have a heading."),
        ("Material,Quantity,Length\nrail,1,1\nrail\n", "Row 3 of lots.csv has 1 cell, where 3 have a heading."),
        ("Material;Quantity\nrail;5;6\n", "Put a cell that holds a semicolon in quotation marks."),
        ("Material\tQuantity\nrail\t5\t6\n", "Put a cell that holds a tab in quotation marks."),
    ],
)
def test_a_number_that_is_parted_by_its_comma_is_refused(text: str, words: str) -> None:
    assert words in refused(text.encode(), "lots.csv")


def test_rows_between_semicolons_may_leave_the_last_cells_out() -> None:
    table = read(b"Material;Quantity;Length\nrail;5\nrail;6;7;;\n;;\n", "lots.csv")
    assert [row["quantity"].text for row in table.rows] == ["5", "6"]
    assert len(read(b"Material,Quantity,Length\nrail,5,\n\n,,\n,\n", "lots.csv").rows) == 1


def test_text_that_a_spreadsheet_would_work_out_is_flagged() -> None:
    table = read(b"Material,Quantity\n=HYPERLINK(1),5\n=,6\n", "lots.csv")
    assert [row["material"].formula for row in table.rows] == [True, False]


def test_dates_of_a_sheet_are_dates_and_dates_as_text_are_text() -> None:
    table = read(xlsx([["Material", "Quantity"], [datetime.date(2027, 5, 12), "12/05/2027"]]))
    assert as_date(table.rows[0]["material"]) == datetime.date(2027, 5, 12)
    assert isinstance(table.rows[0]["quantity"].value, str)


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"", "stock.xlsx", "stock.xlsx is empty"),
        (b"\r\n \r\n", "stock.csv", "stock.csv is empty"),
        (OLE + b"\0" * 600, "stock.xlsx", "in the old .xls format, whatever its name says"),
        (OLE + "EncryptedPackage".encode("utf-16-le"), "stock.xlsx", "locked with a password"),
        (b"<html><table></table></html>", "stock.xlsx", "is not a spreadsheet"),
        (b"PK\x03\x04 and then nothing of use", "stock.xlsx", "is damaged or is not a spreadsheet"),
        (b"Material,Quantity\n\xf0\xe5\xe9\xea\xe0,5\n", "stock.csv", "encoding UTF-8"),
        ("Material;Quantity\nrail;5\n".encode("utf-16-le"), "stock.csv", "encoding UTF-8"),
        (b"Material,Quantity\nrail\x00,5\n", "stock.csv", "encoding UTF-8"),
        (b'Material,Quantity\n"rail,5\n', "stock.csv", "from line 2 on.*quotation mark too many"),
        (b"Material,How many\nrail,5\n", "stock.csv", "needs a column headed “Quantity”.*“How many”"),
    ],
)
def test_refused_files(data: bytes, name: str, words: str) -> None:
    assert re.search(words, refused(data, name), re.S)


def test_wrong_sheet_says_which_there_are() -> None:
    data = xlsx([["Material", "Quantity"]], title="Lots", more=["Cover"])
    assert refused(data, sheet="Stock") == ("stock.xlsx has no sheet named “Stock”. Its sheets are “Cover” and “Lots”.")


def test_missing_headings_say_what_is_there() -> None:
    assert refused(xlsx([["Length", "Colour"], ["10'", "grey"]])) == (
        "The sheet “Stock” of stock.xlsx needs columns headed “Material” and “Quantity”. "
        "The headings found are “Length” and “Colour”."
    )


def test_two_columns_for_one_thing() -> None:
    assert "two columns for “Material”, A and C" in refused(xlsx([["Material", "Quantity", "Item"]]))


def test_more_rows_than_allowed() -> None:
    def fill(part: bytes) -> bytes:
        row = b"<row><c t='inlineStr'><is><t>rail</t></is></c><c><v>1</v></c></row>"
        return part.replace(b"</sheetData>", row * 200_001 + b"</sheetData>")

    data = patched(xlsx([["Material", "Quantity"]]), {SHEET1: fill})
    assert refused(data) == ("The sheet “Stock” of stock.xlsx has more than 200,000 rows. Split it into smaller files.")
    few = xlsx([["Material", "Quantity"]] + [["rail", 1]] * 100)
    assert len(read(few, max_rows=100).rows) == 100
    assert "more than 99 rows" in refused(few, max_rows=99)


def test_zip_that_unpacks_to_too_much() -> None:
    bomb = patched(xlsx([["Material", "Quantity"]]), {"xl/media/image1.png": b"\0" * (packages.MAX_UNPACKED + 1)})
    assert len(bomb) < 1024 * 1024
    assert "unpacks to far more than a spreadsheet should" in refused(bomb)
    smaller = patched(xlsx([["Material", "Quantity"]]), {"xl/media/image1.png": b"\0" * (8 * 1024 * 1024)})
    assert "unpacks to far more than a spreadsheet should" in refused(smaller)


def test_zip_whose_directory_tells_less_than_the_truth() -> None:
    big = b"<worksheet>" + b"<!-- filler -->" * 100_000 + b"</worksheet>"
    data = bytearray(patched(xlsx([["Material", "Quantity"]]), {SHEET1: big}))
    true_size, told = struct.pack("<I", len(big)), struct.pack("<I", 100)
    assert data.count(true_size) >= 1
    assert "damaged" in refused(bytes(data.replace(true_size, told)))


def test_more_texts_and_cells_than_are_read_at_once(monkeypatch) -> None:
    """Counted as they unpack, before anything is made of them."""
    main = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    texts = b"<sst " + main + b">" + b"<si><t>a</t></si>" * 200 + b"</sst>"
    book = patched(xlsx([["Material", "Quantity"], ["rail", 1]]), {"xl/sharedStrings.xml": texts})
    with zipfile.ZipFile(io.BytesIO(book)) as archive:
        tags = sum(archive.read(name).count(b"<") for name in ("xl/sharedStrings.xml", SHEET1))
    monkeypatch.setattr(packages, "MAX_TAGS", tags)
    assert len(read(book).rows) == 1
    monkeypatch.setattr(packages, "MAX_TAGS", tags - 1)
    monkeypatch.setattr("farmbuild.workbooks.reading.load_workbook", None)
    said = refused(book)
    assert "more than about 700,000 filled cells and different texts" in said and "Split it" in said


def test_more_styles_than_a_spreadsheet_has() -> None:
    def fill(part: bytes) -> bytes:
        return part.replace(b"</cellXfs>", b"<xf/>" * packages.MAX_TAGS_OF_OTHERS + b"</cellXfs>")

    assert "unpacks to far more" in refused(patched(xlsx([["Material", "Quantity"]]), {"xl/styles.xml": fill}))


def test_a_text_file_has_the_same_bound_as_a_workbook(monkeypatch) -> None:
    text = b"Material,Quantity\nrail,1\n"
    monkeypatch.setattr("farmbuild.workbooks.reading.MAX_BYTES", len(text))
    assert len(read(text, "stock.csv").rows) == 1
    assert "is larger than" in refused(text + b" ", "stock.csv")


def test_zip_with_too_many_parts() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for n in range(packages.MAX_PARTS + 1):
            archive.writestr(f"part{n}", b"")
    assert "unpacks to far more" in refused(out.getvalue())


def test_zip_that_is_no_workbook() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("letter.txt", b"hello")
    assert "is not a spreadsheet" in refused(out.getvalue())


@pytest.mark.parametrize("part", [SHEET1, "xl/workbook.xml", "[Content_Types].xml"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_entities_are_refused_in_any_part(part: str, encoding: str) -> None:
    text = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><x>&b;</x>'
    if encoding == "utf-16":
        text = text.replace("?>", ' encoding="utf-16"?>', 1)
    assert "holds definitions that no spreadsheet has" in refused(
        patched(xlsx([["Material", "Quantity"]]), {part: text.encode(encoding)})
    )


def test_doctype_behind_a_long_comment_is_refused() -> None:
    text = f"<!--{' ' * 70_000}--><!DOCTYPE x><x/>".encode()
    assert "holds definitions" in refused(patched(xlsx([["Material", "Quantity"]]), {SHEET1: text}))


def test_far_away_cells_do_not_stop_the_reading() -> None:
    def stretch(part: bytes) -> bytes:
        far = b'<row r="1048576"><c r="XFD1048576" t="n"><v>1</v></c></row></sheetData>'
        return part.replace(b"</sheetData>", far)

    data = patched(xlsx([["Material", "Quantity"], ["rail", 1]]), {SHEET1: stretch})
    assert len(read(data).rows) == 1


def test_a_wrong_extent_hides_no_row() -> None:
    def shrink(part: bytes) -> bytes:
        return part.replace(b"<sheetData>", b'<dimension ref="A1:A1"/><sheetData>', 1)

    data = patched(xlsx([["Material", "Quantity"], ["rail", 1]]), {SHEET1: shrink})
    assert read(data).rows[0]["quantity"].value == 1


WHOLE = xlsx([["Material", "Quantity"], ["rail", 1]])
#: A place in the file, in ten-thousandths of it: the file holds its time of writing, so its size is not fixed.
places = st.integers(0, 9999)


@examples(150)
@given(st.lists(st.tuples(places, st.integers(0, 255)), min_size=1, max_size=6), places)
def test_a_damaged_file_is_refused_in_a_sentence_or_still_read(hits: list[tuple[int, int]], cut: int) -> None:
    whole = bytearray(WHOLE)
    for place, byte in hits:
        whole[place * len(whole) // 10_000] = byte
    for damaged in (bytes(whole), bytes(whole[: cut * len(whole) // 10_000])):
        try:
            read(damaged)
        except WorkbookError as error:
            assert str(error).startswith(("stock.xlsx", "The sheet"))
