"""A project workbook says its decimal sign: text in it is read by that, and what could be two numbers is refused."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.management import call_command
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from farmbuild.measure import POINT, THIN_SPACE, NumberStyle, UnitSystem, current_style, use_style
from farmbuild.planning.inputs import Lot, Season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectProblems, project_template, read_project, write_project
from tests.planning.seasons import TWELVE, house, season
from tests.size import examples
from tests.workbooks.books import small_plan, small_season
from tests.workbooks.test_project import also, answer, put

METRIC, IMPERIAL = UnitSystem.METRIC, UnitSystem.IMPERIAL
COMMA = NumberStyle(",", THIN_SPACE)
Change = Callable[[object], None]


def signed(written: Season, style: NumberStyle) -> Season:
    return replace(written, buyer=replace(written.buyer, decimal_sign=style.decimal))


def changed(written: Season, *changes: Change, style: NumberStyle = POINT) -> bytes:
    book = load_workbook(io.BytesIO(write_project(signed(written, style))))
    also(*changes)(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def said(data: bytes) -> list[str]:
    with pytest.raises(ProjectProblems) as caught:
        read_project(data, "season.xlsx")
    return [str(problem) for problem in caught.value.problems]


def without_the_row(book) -> None:
    at = layout.HEADING_ROW + 1 + [field.name for field in layout.PROJECT].index("decimal_sign")
    book["Project"].delete_rows(at)


@pytest.mark.parametrize("units", UnitSystem)
@pytest.mark.parametrize("style", [POINT, COMMA])
def test_a_season_reads_back_equal_in_either_writing(units, style):
    written = signed(small_season(units), style)
    data = write_project(written)
    # Whatever is in force where it is read and written.
    for other in (POINT, COMMA):
        with use_style(other):
            read = read_project(data, "season.xlsx")
            assert (read, read.buyer.decimal_sign) == (written, style.decimal)
            assert write_project(read) == data
            assert current_style() == other


@examples(40)
@given(
    st.decimals(min_value="0.000001", max_value=30_000, places=6),
    st.sampled_from([POINT, COMMA]),
    st.sampled_from(list(UnitSystem)),
)
def test_any_length_reads_back_equal_in_either_writing(length, style, units):
    written = season(house("h", TWELVE), lots=(Lot("a", "rail-1-3-8", length, 1, Decimal("0.085"), ""),))
    written = signed(replace(written, buyer=replace(written.buyer, units=units)), style)
    data = write_project(written)
    assert read_project(data, "season.xlsx").lots == written.lots


def test_text_is_read_by_the_sign_and_a_number_cell_is_that_number():
    typed = also(
        put("Stock", "unit_cost", "0,085"),
        put("Stock", "length", "5,85 m"),
        put("Stock", "quantity", "1.200"),
        put("Offers", "price_1", 13.75),
        put("Houses", "length", "14,63"),
    )
    read = read_project(changed(small_season(METRIC), typed, style=COMMA), "season.xlsx")
    lot = read.lots[0]
    assert (lot.unit_cost, lot.length, lot.quantity) == (Decimal("0.085"), 5850, 1200)
    assert read.offers[0].breaks[0].unit_price == Decimal("13.75")
    assert read.houses[0].spec.length == 14_630


@pytest.mark.parametrize(
    ("style", "change", "words"),
    [
        (COMMA, put("Stock", "unit_cost", "3.750"), "Stock, row 4, Cost of one: “3.750” could be 3750 or 3,750."),
        (COMMA, put("Stock", "unit_cost", "12.50"), "Stock, row 4, Cost of one: “12.50”: decimals take a comma here."),
        (COMMA, put("Stock", "quantity", "1,200"), "Stock, row 4, Quantity: “1,200” could be 1,200 or 1200"),
        (COMMA, put("Stock", "length", "2.380 m"), "Stock, row 4, Length of one: “2.380” could be 2380 or 2,380"),
        (COMMA, answer("Tax, percent", "6.25"), "Project, row 11, Tax, percent: “6.25”: decimals take a comma here."),
        (COMMA, answer("Tax, percent", "100,5"), "100,5 is more than 100. Type a percentage, for example 6,25."),
        (COMMA, put("Offers", "price_2", None), "Type the price of one, for example 12,50."),
        (POINT, put("Stock", "unit_cost", "3,750"), "Stock, row 4, Cost of one: “3,750” could be 3750 or 3.750."),
        (POINT, put("Stock", "unit_cost", "0,085"), "decimals take a point here. If you mean 0.085, type it so."),
        (
            COMMA,
            answer("Decimal sign", None),
            "Project, row 8, Decimal sign: This cell is empty. Choose one of: point, comma.",
        ),
        (COMMA, answer("Decimal sign", "dot"), "Project, row 8, Decimal sign: “dot” is not one of the choices."),
    ],
)
def test_what_could_be_two_numbers_is_refused_at_its_cell(style, change, words):
    problems = said(changed(small_season(METRIC), change, style=style))
    assert any(words in problem for problem in problems), problems


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            put("Stock", "length", "6000 m"),
            "6000 m is longer than any stick, which is at most 30 m. Did you mean 6000 mm?",
        ),
        (put("Offers", "length", 31), "Offers, row 4, Length of one: 31 m is longer than any stick"),
        (put("Houses", "hip_board_lengths", "3,9 m; 480 m"), "480 m is longer than any board"),
        (put("Houses", "hip_board_lengths", "3,9, 4,8"), "could be one length or several"),
        (put("Offers", "price_1", "$ 12,50 EUR"), "is not an amount of money"),
    ],
)
def test_what_no_stick_can_be_is_refused_at_its_cell(change, words):
    problems = said(changed(small_season(METRIC), change, style=COMMA))
    assert any(words in problem for problem in problems), problems


def test_lengths_as_the_trade_says_them():
    typed = also(
        put("Stock", "length", 6000),
        put("Houses", "hip_board_lengths", "3,9 m; 4,8 m\n5100"),
        put("Offers", "price_1", "$ 12,50"),
    )
    read = read_project(changed(small_season(METRIC), typed, style=COMMA), "season.xlsx")
    assert read.lots[0].length == 6000
    assert read.houses[0].spec.hip_board_lengths == (3900, 4800, 5100)
    assert read.offers[0].breaks[0].unit_price == Decimal("12.5")


@pytest.mark.parametrize("units", UnitSystem)
def test_a_workbook_from_before_there_was_such_a_row_has_a_point(units):
    written = small_season(units)
    data = changed(written, without_the_row)
    read = read_project(data, "season.xlsx")
    assert (read, read.buyer.decimal_sign) == (written, ".")
    problems = said(changed(written, without_the_row, put("Stock", "unit_cost", "3,750")))
    assert problems == ["Stock, row 4, Cost of one: “3,750” could be 3750 or 3.750. Type it one of these ways."]
    # A name that is not on its sheet is told at the row where it stands there.
    assert said(changed(written, without_the_row, lambda book: book["Project"].cell(12, 2, "moon")))[0].startswith(
        "Project, row 12, Deliver to: “moon”"
    )


def test_in_feet_and_inches_an_empty_answer_is_a_point():
    written = small_season()
    assert read_project(changed(written, answer("Decimal sign", None)), "season.xlsx").buyer.style == POINT


def test_the_template_has_the_sign_that_is_asked_for(tmp_path):
    at = layout.HEADING_ROW + 1 + [field.name for field in layout.PROJECT].index("decimal_sign")
    path = tmp_path / "new.xlsx"
    call_command("project_template", str(path), "--units", "metric", "--decimal-sign", "comma", stdout=io.StringIO())
    page = load_workbook(path)["Project"]
    assert [page.cell(at, place).value for place in (1, 2)] == ["Decimal sign", "comma"]
    assert path.read_bytes() == project_template(METRIC, decimal_sign="comma")
    assert load_workbook(io.BytesIO(project_template()))["Project"].cell(at, 2).value is None


def test_what_is_written_of_a_season_follows_its_workbook(tmp_path):
    path = tmp_path / "season.xlsx"
    path.write_bytes(changed(small_season(METRIC), style=COMMA))
    out = io.StringIO()
    call_command("plan", str(path), "--out", str(tmp_path / "orders"), stdout=out, stderr=io.StringIO())
    assert "Numbers typed as text were read with a decimal comma." in out.getvalue()
    assert current_style() == POINT
    assert len(list((tmp_path / "orders").glob("order-*.xlsx"))) == len(small_plan(METRIC).orders)
