"""One cell: what is understood, and the sentence when it is not."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import POINT, THIN_SPACE, NumberStyle, Unit, use_style
from farmbuild.workbooks.cells import (
    Cell,
    CellError,
    as_bool,
    as_date,
    as_length,
    as_money,
    as_number,
    as_quantity,
    as_text,
)

COMMA = NumberStyle(",", THIN_SPACE)
# A cell has no time zone.
NOON = datetime.datetime(2027, 5, 12, 12, 0)  # noqa: DTZ001
DAY = datetime.datetime(2027, 5, 12)  # noqa: DTZ001


@pytest.mark.parametrize("value", [12, 12.0, "12", " 12 "])
def test_quantity_is_read_from_numbers_and_plain_text(value: object) -> None:
    assert as_quantity(Cell(value)) == 12


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "empty"),
        ("", "empty"),
        (1.5, "not a whole number"),
        (-1, "too small"),
        (10**12, "at most 999,999,999"),
        (1e300, "too long for a number"),
        (float("inf"), "cannot be read as a number"),
        (float("nan"), "cannot be read as a number"),
        ("12.0", "not a whole number"),
        ("1.000", "“1.000” could be 1.000 or 1000"),
        ("2,5", "not a whole number"),
        ("1e3", "“1e3” cannot be read as a number. Type it like 12."),
        ("twelve", "cannot be read as a number"),
        (True, "rather than yes"),
        (DAY, "turned this into the date 2027-05-12"),
    ],
)
def test_quantity_refuses(value: object, words: str) -> None:
    with pytest.raises(CellError, match=words):
        as_quantity(Cell(value))


@pytest.mark.parametrize("reader", [as_text, as_quantity, as_money, as_date, as_bool])
def test_formulas_and_error_values_are_refused_by_every_reader(reader: object) -> None:
    with pytest.raises(CellError, match=r"holds the formula “=A1\*2”\. Type the value itself"):
        reader(Cell("=A1*2", formula=True))
    with pytest.raises(CellError, match="shows the error #DIV/0!"):
        reader(Cell("#DIV/0!", error=True))


@pytest.mark.parametrize(
    ("value", "unit", "mm"),
    [
        (10, Unit.FOOT, "3048"),
        (7 + 3.5 / 12, Unit.FOOT, "2222.5"),
        (93.5, Unit.INCH, "2374.9"),
        (2.38, Unit.METRE, "2380"),
        ("7' 3 1/2\"", Unit.METRE, "2222.5"),
        ("2380 mm", Unit.FOOT, "2380"),
        ("10", Unit.FOOT, "3048"),
    ],
)
def test_length(value: object, unit: Unit, mm: str) -> None:
    assert as_length(Cell(value), unit) == Decimal(mm)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (-1.5, "cannot be below zero"),
        ("long", "“long” cannot be read as a length"),
        (DAY, "turned this into the date"),
        (True, "Type a length"),
        (1e12, "longer than any stick"),
        (float("inf"), "cannot be read"),
        (None, "empty"),
    ],
)
def test_length_refuses(value: object, words: str) -> None:
    with pytest.raises(CellError, match=words):
        as_length(Cell(value), Unit.FOOT)


def test_quantity_from_the_least_to_the_most() -> None:
    assert [as_quantity(Cell(n), least=3, most=5) for n in (3, 5)] == [3, 5]
    with pytest.raises(CellError, match=r"2 is too small\. Type a whole number of at least 3\."):
        as_quantity(Cell(2), least=3, most=5)
    with pytest.raises(CellError, match=r"6 is too large\. Type a whole number of at most 5\."):
        as_quantity(Cell(6), least=3, most=5)
    with pytest.raises(CellError, match="for example 5"):
        as_quantity(Cell(None), least=3, most=5)
    with pytest.raises(CellError, match="for example 20"):
        as_quantity(Cell(None), least=20)
    assert as_quantity(Cell(999_999_999)) == 999_999_999
    with pytest.raises(CellError, match="too large"):
        as_quantity(Cell(1_000_000_000))


@pytest.mark.parametrize(
    ("text", "number"),
    [
        (".5", "0.5"),
        ("123456789012345", "123456789012345"),
        ("-0.25", "-0.25"),
        ("1 000", "1000"),
        ("1,234.5", "1234.5"),
    ],
)
def test_numbers_as_text(text: str, number: str) -> None:
    assert as_number(Cell(text), example=Decimal(12)) == Decimal(number)


@pytest.mark.parametrize("text", ["1.2.3", ".", "½", "+5", "5.", "1 00"])
def test_what_is_no_number(text: str) -> None:
    with pytest.raises(CellError, match=r"cannot be read as a number\. Type it like 12\."):
        as_number(Cell(text), example=Decimal(12))


@pytest.mark.parametrize(
    ("value", "number"),
    [
        ("0,085", "0.085"),
        ("3,750", "3.750"),
        ("12,50", "12.50"),
        ("1.234,56", "1234.56"),
        (0.085, "0.085"),
        (3.75, "3.75"),
    ],
)
def test_a_decimal_comma_is_for_text_and_a_number_cell_is_that_number(value: object, number: str) -> None:
    with use_style(COMMA):
        assert as_money(Cell(value)) == Decimal(number)


@pytest.mark.parametrize(
    ("reader", "style", "text", "words"),
    [
        (as_money, POINT, "0,085", "decimals take a point here. If you mean 0.085, type it so."),
        (as_money, POINT, "3,750", "“3,750” could be 3750 or 3.750. Type it one of these ways."),
        (as_money, COMMA, "1.234", "“1.234” could be 1234 or 1,234. Type it one of these ways."),
        (as_money, COMMA, "12.50", "decimals take a comma here. If you mean 12,50, type it so."),
        (as_money, COMMA, 1.23456, "“1,23456” has more than 4 decimals"),
        (as_money, COMMA, "-1,5", "-1,5 is below zero. Type an amount of zero or more, for example 12,50."),
        (as_quantity, COMMA, "2,5", "is not a whole number"),
        (as_quantity, COMMA, "100,0", "“100,0” is not a whole number"),
        (as_quantity, COMMA, "1,200", "“1,200” could be 1,200 or 1200, and a whole number is asked for."),
        (as_quantity, COMMA, 2.5, "“2,5” is not a whole number"),
    ],
)
def test_what_could_be_read_two_ways_is_refused_with_both(
    reader: Callable[[Cell], object], style: NumberStyle, text: object, words: str
) -> None:
    with use_style(style), pytest.raises(CellError) as refused:
        reader(Cell(text))
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("value", "amount"),
    [(12.5, "12.5"), ("12.50", "12.50"), (12.1 * 3, "36.3"), (0, "0"), ("999999999.9999", "999999999.9999")],
)
def test_money(value: object, amount: str) -> None:
    assert as_money(Cell(value)) == Decimal(amount)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (-1, "below zero"),
        ("-0.0001", "below zero"),
        ("$12", "cannot be read as a number. Type it like 12.50."),
        ("1.23456", "“1.23456” has more than 4 decimals"),
        (1.23456, "“1.23456” has more than 4 decimals"),
        (1.00001, "“1.00001” has more than 4 decimals"),
        ("1.00000000001", "more than 4 decimals"),
        (10**9, "too large"),
    ],
)
def test_money_refuses(value: object, words: str) -> None:
    with pytest.raises(CellError, match=words):
        as_money(Cell(value))


def test_money_with_as_many_places_as_are_asked_for() -> None:
    assert as_money(Cell("12.34"), places=2) == Decimal("12.34")
    for value in ("12.345", 12.345):
        with pytest.raises(CellError, match=r"has more than 2 decimals\. Type at most 2"):
            as_money(Cell(value), places=2)


def test_money_with_the_sign_of_its_currency() -> None:
    for text in ("$12.50", "12.50 USD", "12.50"):
        assert as_money(Cell(text), currency="USD") == Decimal("12.50")
    assert as_money(Cell(12.5), currency="USD") == Decimal("12.5")
    for text, words in (
        ("€12", "is not an amount of money"),
        ("3,750", "3750 or 3.750"),
        ("", "empty"),
        ("-1", "below zero"),
    ):
        with pytest.raises(CellError, match=words):
            as_money(Cell(text), currency="USD")


@pytest.mark.parametrize("value", [DAY, NOON, DAY.date(), "2027-05-12"])
def test_date(value: object) -> None:
    assert as_date(Cell(value)) == datetime.date(2027, 5, 12)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("12/05/2027", "could mean more than one day.*2027-05-12"),
        ("next week", "cannot be read as a date. Type the date year first"),
        ("2027-02-30", "There is no day"),
        (46519, "is not a date"),
        (datetime.time(12, 0), "is not a date"),
        (None, "empty"),
    ],
)
def test_date_refuses(value: object, words: str) -> None:
    with pytest.raises(CellError, match=words):
        as_date(Cell(value))


def test_yes_and_no() -> None:
    yes = (True, "Yes", "x", 1, "1", "Ja", "OUI", "Si", "SÍ", "si\u0301", "sim", "TRUE", "WAHR", "VRAI", "y")
    no = (False, "No", None, 0, "0", "nein", "Non", "Não", "na\u0303o", "FALSCH", "n")
    assert [as_bool(Cell(v)) for v in yes] == [True] * len(yes)
    assert [as_bool(Cell(v)) for v in no] == [False] * len(no)
    for text in ("perhaps", "2", "yes no"):
        with pytest.raises(CellError, match=r"neither yes nor no\. Type yes or no, or leave it empty for no\."):
            as_bool(Cell(text))


def test_text_keeps_every_script_and_refuses_what_cannot_be_printed() -> None:
    assert as_text(Cell("  Труба 直径 25 مم ")) == "Труба 直径 25 مم"
    assert as_text(Cell(7.0)) == "7"
    with pytest.raises(CellError, match="cannot be printed"):
        as_text(Cell("bell\x07"))
    assert as_text(Cell("a" * 200)) == "a" * 200
    assert as_text(Cell("two\nlines\tand a tab"), lines=True) == "two\nlines\tand a tab"
    assert as_text(Cell("two\r\nlines\tand a tab\u202e")) == "two lines and a tab"
    with pytest.raises(CellError, match="201 characters; 200 is the most"):
        as_text(Cell("a" * 201))
    with pytest.raises(CellError, match="4 characters; 3 is the most"):
        as_text(Cell("long"), most=3)
    with pytest.raises(CellError, match="turned this into the date"):
        as_text(Cell(DAY))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (7.50, "7.5"),
        (100.0, "100"),
        (1e22, "10000000000000000000000"),
        (DAY, "2027-05-12"),
        (NOON, "2027-05-12 12:00:00"),
        (" rail ", "rail"),
    ],
)
def test_a_cell_is_quoted_as_it_shows(value: object, text: str) -> None:
    assert (Cell(value).text, Cell(value).blank) == (text, not text)


def test_a_long_cell_is_quoted_in_part() -> None:
    for text, quoted in (("a" * 40, "a" * 40), ("a" * 41, "a" * 39 + "…")):
        with pytest.raises(CellError, match=f"^“{quoted}” is neither yes nor no"):
            as_bool(Cell(text))


@given(st.decimals(min_value=0, max_value=10**8, places=4))
def test_money_survives_the_binary_numbers_of_a_spreadsheet(amount: Decimal) -> None:
    assert as_money(Cell(float(amount))) == amount
