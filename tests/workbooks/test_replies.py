"""An order sheet that came back: what the supplier wrote is read, and nothing is guessed."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from farmbuild.measure import THIN_SPACE, NumberStyle, use_style
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.replies import read_reply
from tests.workbooks.books import recalculated, xlsx
from tests.workbooks.test_plan_workbooks import line, order, workbook

FIRST = 9


def sent() -> bytes:
    return workbook(order(line(30, "13.4", pack=10), line(7, "0.0855", material="screw", length=None)))


def filled(changes: dict[str, object], data: bytes | None = None) -> bytes:
    """The sheet with some cells typed over, saved by openpyxl as another program would."""
    book = load_workbook(io.BytesIO(data or sent()))
    for place, value in changes.items():
        book["Order"][place] = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read(changes: dict[str, object] | None = None, **more):
    return read_reply(filled(changes or {}), "reply.xlsx", currency="USD", **more)


def test_untouched_it_says_what_was_ordered() -> None:
    sheet = read_reply(sent(), "reply.xlsx", currency="USD")
    assert sheet.order == "2027-7"
    first, second = sheet.lines
    assert (first.row, first.number, first.code, first.quantity, first.price_over) == (
        9,
        1,
        "IP-1",
        30,
        Decimal("13.4"),
    )
    assert (first.price, first.promised, first.remark, first.problems) == (None, None, "", {})
    assert (second.number, second.quantity, second.price_over) == (2, 7, Decimal("0.0855"))
    assert first.needed_by == date(2027, 4, 5)


def test_what_was_filled_in() -> None:
    sheet = read({"N9": 14.25, "O9": date(2027, 4, 12), "P9": "one bundle short", "O10": "2027-04-20", "N10": "0.09"})
    first, second = sheet.lines
    assert (first.price, first.promised, first.remark) == (Decimal("14.25"), date(2027, 4, 12), "one bundle short")
    assert (second.price, second.promised) == (Decimal("0.09"), date(2027, 4, 20))


def test_written_over_our_own_cells() -> None:
    first, second = read({"J9": 15, "H9": 2, "I10": 5, "M10": date(2027, 5, 1)}).lines
    # Two packs of ten: the formula of the sheet is worked out.
    assert (first.price_over, first.quantity) == (15, 20)
    assert (second.quantity, second.needed_by) == (5, date(2027, 5, 1))


@pytest.mark.parametrize(
    ("place", "value", "heading", "words"),
    [
        ("N9", "=J9*1.05", "Confirmed price", "holds the formula"),
        ("J9", "=1+1", "Price of one", "holds the formula"),
        ("I9", "=SUM(G9:H9)", "Quantity", "holds the formula"),
        ("I9", "=G10*H10", "Quantity", "holds the formula"),
        ("A9", "=1", "No.", "holds the formula"),
        ("O9", "=TODAY()", "Promised date", "holds the formula"),
        ("P9", "=HYPERLINK(1)", "Remark", "holds the formula"),
        ("N9", "14,25", "Confirmed price", "decimals take a point here. If you mean 14.25"),
        ("N9", -1, "Confirmed price", "below zero"),
        ("N9", date(2027, 4, 1), "Confirmed price", "turned this into the date"),
        ("N9", 10**12, "Confirmed price", "too large"),
        ("O9", "12/04/2027", "Promised date", "could mean more than one day"),
        ("O9", "next week", "Promised date", "cannot be read as a date"),
        ("O9", "2027-02-30", "Promised date", "There is no day"),
        ("O9", date(1927, 4, 1), "Promised date", "cannot be right"),
        ("I9", 2.5, "Quantity", "not a whole number"),
        ("H9", "two", "Quantity", "cannot be read as a number"),
        ("A9", 0, "No.", "too small"),
        ("P9", "x" * 201, "Remark", "200 is the most"),
    ],
)
def test_a_bad_cell_is_said_at_its_row(place: str, value: object, heading: str, words: str) -> None:
    first, second = read({place: value}).lines
    assert words in first.problems[heading]
    assert list(first.problems) == [heading]
    assert second.problems == {}


def test_lines_put_in_and_taken_out() -> None:
    book = load_workbook(io.BytesIO(sent()))
    sheet = book["Order"]
    sheet.delete_rows(10)
    sheet.insert_rows(10)
    sheet["B10"], sheet["I10"], sheet["J10"] = "Something new", 4, 9
    out = io.BytesIO()
    book.save(out)
    first, added = read_reply(out.getvalue(), "reply.xlsx", currency="USD").lines
    assert first.number == 1
    assert (added.row, added.number, added.item, added.quantity) == (10, None, "Something new", 4)


def test_a_reply_is_read_by_the_decimal_sign_in_force() -> None:
    with use_style(NumberStyle(",", THIN_SPACE)):
        first, second = read({"N9": "14,25", "N10": "$0,085", "O9": "12.04.2027", "I10": "1.200"}).lines
        assert (first.price, first.promised, second.price) == (Decimal("14.25"), date(2027, 4, 12), Decimal("0.085"))
        assert (second.quantity, first.price_over, first.problems, second.problems) == (1200, Decimal("13.4"), {}, {})
        first, _ = read({"N9": "1.234", "J9": "13.40"}).lines
        assert "“1.234” could be 1234 or 1,234." in first.problems["Confirmed price"]
        assert "If you mean 13,40, type it so." in first.problems["Price of one"]


def test_as_csv() -> None:
    text = (
        'Purchase order 7-1\n\nNo.,Item,Your item number,Quantity,"Price of one, USD",'
        '"Confirmed price, USD",Promised date\n'
        "1,Rail,IP-1,30,13.4,14,2027-05-01\n,,,Goods,,,\n"
    )
    sheet = read_reply(text.encode(), "reply.csv", currency="USD")
    (only,) = sheet.lines
    assert (sheet.order, only.price, only.promised) == ("7-1", 14, date(2027, 5, 1))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04 not a workbook", "reply.xlsx"),
        (xlsx([["Material", "Length"], ["rail", "10'"]]), "needs columns headed"),
        (xlsx([["No.", "Item", "Quantity", "Price of one, EUR"], [1, "Rail", 3, 4]]), "Price of one, USD"),
        (xlsx([["No.", "Item", "Quantity", "Price of one, USD"]]), "no lines under them"),
    ],
)
def test_no_order_sheet_at_all(data: bytes, words: str) -> None:
    with pytest.raises(WorkbookError) as error:
        read_reply(data, "reply.xlsx", currency="USD")
    assert words in str(error.value)


@pytest.mark.office
def test_saved_by_libreoffice(tmp_path) -> None:
    """Formulas as that program writes them are still ours."""
    recalculated(filled({"N9": 14.25, "O9": date(2027, 4, 12), "H9": 2}), tmp_path)
    sheet = read_reply((tmp_path / "out" / "book.xlsx").read_bytes(), "reply.xlsx", currency="USD")
    first, second = sheet.lines
    assert (first.price, first.promised, first.quantity) == (Decimal("14.25"), date(2027, 4, 12), 20)
    assert (second.quantity, second.price_over, sheet.order) == (7, Decimal("0.0855"), "2027-7")
    assert first.problems == second.problems == {}
