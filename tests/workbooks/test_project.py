"""The project workbook: what is written reads back, and everything wrong in one is found at once."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from farmbuild.measure import UnitSystem
from farmbuild.planning.inputs import Lot, Offer, PriceBreak, Season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.project import ProjectProblems, project_template, read_project, write_project
from farmbuild.workbooks.reading import WorkbookError
from tests.planning.seasons import BUYER, MATERIALS, SITES, SUPPLIERS, TWELVE, big_season, feet, house, season
from tests.size import examples
from tests.workbooks.books import recalculated, small_season, xlsx

UNITS = list(UnitSystem)


@pytest.mark.parametrize("units", UNITS)
def test_a_season_reads_back_equal(units: UnitSystem) -> None:
    written = small_season(units)
    assert read_project(write_project(written), "season.xlsx") == written


def test_a_large_season_reads_back_equal_and_writes_the_same_bytes() -> None:
    written = big_season(40, sites=7, lots=600)
    data = write_project(written)
    assert read_project(data, "season.xlsx") == written
    assert write_project(read_project(data, "season.xlsx")) == data


words = (
    st.text(
        st.characters(codec="utf-8", exclude_categories=["C", "Z"], include_characters=" ="), min_size=1, max_size=30
    )
    .map(str.strip)
    .filter(bool)
)
lengths = st.decimals(min_value="0.000001", max_value=30_000, places=6)
money = st.decimals(min_value=0, max_value=10**6, places=4)
charges = st.decimals(min_value=0, max_value=10**6, places=2)
days = st.dates(date(2000, 1, 1), date(2100, 12, 31))


@st.composite
def seasons(draw: st.DrawFn) -> Season:
    lots = tuple(
        Lot(ref, "rail-1-3-8", draw(lengths), draw(st.integers(0, 10**6)), draw(money), draw(words))
        for ref in draw(st.lists(words, unique=True, max_size=4))
    )
    offers = []
    for ref in draw(st.lists(words, unique=True, max_size=4)):
        steps = sorted(draw(st.sets(st.integers(1, 10**6), min_size=1, max_size=layout.MAX_BREAKS)))
        breaks = tuple(PriceBreak(n, draw(money)) for n in steps)
        offers.append(
            Offer(
                ref,
                draw(st.sampled_from(SUPPLIERS)).code,
                "screw",
                None,
                draw(st.integers(1, 500)),
                breaks,
                draw(st.integers(0, 400)),
                draw(st.none() | days),
                draw(st.just("") | words),
            )
        )
    return season(
        replace(house("h", TWELVE, need=draw(days)), name=draw(words)),
        lots=lots,
        offers=tuple(offers),
        as_of=draw(days),
        kerf=draw(st.just(Decimal(0)) | st.decimals(min_value="0.000001", max_value="25.4", places=6)),
        buyer=replace(BUYER, name=draw(words), units=draw(st.sampled_from(UNITS)), address=draw(words)),
        sites=tuple(replace(site, name=draw(words)) for site in SITES),
        suppliers=tuple(
            replace(supplier, name=draw(words), free_delivery_from=draw(st.none() | charges)) for supplier in SUPPLIERS
        ),
        materials=tuple(replace(material, name=draw(words)) for material in MATERIALS),
    )


@examples(40)
@given(seasons())
def test_any_season_reads_back_equal(written: Season) -> None:
    assert read_project(write_project(written), "season.xlsx") == written


def test_two_recipes_of_one_name_cannot_be_written() -> None:
    other = replace(TWELVE, recipe=replace(TWELVE.recipe, sticks=3))
    with pytest.raises(ValueError, match="Two different recipes are named 12 ft"):
        write_project(season(house("A", TWELVE), house("B", other)))


def test_template_has_the_sheets_drop_downs_notes_and_an_example_each() -> None:
    book = load_workbook(io.BytesIO(project_template()))
    assert book.sheetnames == ["Project", *(sheet.title for sheet in layout.SHEETS)]
    for sheet in layout.SHEETS:
        page = book[sheet.title]
        headings = [str(cell.value).removesuffix(" *") for cell in page[layout.HEADING_ROW]]
        assert headings[0] == layout.NOTE_HEADING
        assert {field.heading for field in sheet.fields if field.required} <= set(headings)
        assert "invented example" in page.cell(layout.HEADING_ROW + 1, 1).value
        assert page.freeze_panes == "C4"
        lists = [rule for rule in page.data_validations.dataValidation if rule.type == "list"]
        wanted = [f for f in sheet.fields if f.refers or f.choices or f.type is layout.Type.YES_NO]
        assert len(lists) == len(wanted)
    houses = book["Houses"].data_validations.dataValidation
    site = next(rule for rule in houses if "D5" in str(rule.sqref))
    assert site.formula1 == "Sites!$B$4:$B$2000"
    assert project_template() == project_template()


def test_template_as_it_is_asks_for_what_is_missing_and_reads_no_example() -> None:
    with pytest.raises(ProjectProblems) as caught:
        read_project(project_template(), "season.xlsx")
    said = {(p.sheet, p.column) for p in caught.value.problems}
    assert {("Project", "Your name"), ("Project", "Units"), ("Houses", "")} <= said
    assert all(problem.sheet in ("Project", "Houses") for problem in caught.value.problems)


@pytest.mark.office
def test_template_survives_a_spreadsheet(tmp_path) -> None:
    """Opened and saved by LibreOffice, a filled workbook is still the same season."""
    written = small_season()
    book = recalculated(write_project(written), tmp_path)
    assert book.sheetnames[0] == "Project"
    assert read_project((tmp_path / "out" / "book.xlsx").read_bytes(), "season.xlsx") == written


def spoiled(change: Callable[[object], None]) -> list[str]:
    """What is said about the small season's workbook after a change to it."""
    book = load_workbook(io.BytesIO(write_project(small_season())))
    change(book)
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(ProjectProblems) as caught:
        read_project(out.getvalue(), "season.xlsx")
    return [str(problem) for problem in caught.value.problems]


def column(sheet: str, name: str) -> int:
    return layout.BY_TITLE[sheet].column(name)


def put(sheet: str, name: str, value: object, row: int = 4) -> Callable[[object], None]:
    return lambda book: setattr(book[sheet].cell(row, column(sheet, name)), "value", value)


def answer(heading: str, value: object) -> Callable[[object], None]:
    row = layout.HEADING_ROW + 1 + [field.heading for field in layout.PROJECT].index(heading)
    return lambda book: setattr(book["Project"].cell(row, 2), "value", value)


def also(*changes: Callable[[object], None]) -> Callable[[object], None]:
    return lambda book: [change(book) for change in changes]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (answer("Tax, percent", "100.001"), "Project, row 11, Tax, percent: 100.001 is more than 100."),
        (answer("Your name", None), "Project, row 4, Your name: This cell is empty."),
        (answer("Your address", "a" * 2001), "Project, row 5, Your address: This text has 2001 characters"),
        (lambda book: book["Project"].cell(7, 1, "Measures"), "Project, Units: There is no row “Units”. Add it."),
        (put("Offers", "pack", 0), "Offers, row 4, "),
        (put("Offers", "from_2", None), "Offers, row 4, From quantity 2: This cell is empty. Type from how many"),
        (
            also(put("Offers", "from_1", 5), put("Offers", "from_2", 5)),
            "Offers, row 4, From quantity 2: Price steps have to rise: 5 is not more than 5.",
        ),
        (
            also(put("Offers", "from_3", 4), put("Offers", "price_3", 1)),
            "Offers, row 4, From quantity 3: Price steps have to rise: 4 is not more than",
        ),
        (put("Offers", "price_2", None), "Offers, row 4, Price of one 2: This cell is empty."),
        (put("Recipes", "tube", "rail-1-3-9"), "Recipes, row 4, Tube: “rail-1-3-9” is not on the sheet Materials. Did"),
        (put("Houses", "length", "very long"), "Houses, row 4, House length: “very long” cannot be read as a length"),
        (put("Houses", "length", -3), "Houses, row 4, House length: A length cannot be below zero"),
        (put("Houses", "length", None), "Houses, row 4, House length: This cell is empty. Type a length"),
        (put("Houses", "anchor_count", 10**12), "Houses, row 4, Anchors: 1000000000000 is too large"),
        (put("Houses", "need_date", "5/4/2027"), "Houses, row 4, Needed by: “5/4/2027” could mean more than one day"),
        (put("Houses", "length", "=C4*2"), "Houses, row 4, House length: This cell holds the formula “=C4*2”"),
        (put("Houses", "site", "noth"), "Houses, row 4, Site: “noth” is not on the sheet Sites. Did you mean “north”?"),
        (put("Houses", "recipe", "13 ft"), "Houses, row 4, Recipe: “13 ft” is not on the sheet Recipes."),
        (put("Houses", "ref", "A", 5), "Houses, row 5, House: “A” already stands in row 4."),
        (put("Houses", "post_depth", "9'"), "Houses, row 4, "),
        (put("Houses", "spacing_wanted", "90'"), "Houses, row 4, "),
        (put("Recipes", "insertion", "11'"), "Recipes, row 4, Insertion: "),
        (put("Materials", "kind", "pipe"), "Materials, row 4, Kind: “pipe” is not one of the choices"),
        (put("Stock", "ref", "L2"), "Stock, row 5, Lot: “L2” already stands in row 4."),
        (put("Stock", "length", None), "Stock, row 4, Length of one: “rail-1-3-8” comes in lengths."),
        (put("Stock", "material", "screw"), "Stock, row 4, Length of one: “screw” is counted and has no length."),
        (put("Stock", "quantity", -2), "Stock, row 4, Quantity: -2 is too small"),
        (put("Offers", "price_1", None), "Offers, row 4, Price of one: This cell is empty."),
        (put("Offers", "from_2", 1), "Offers, row 4, From quantity 2: Price steps have to rise"),
        (put("Offers", "supplier", "who"), "Offers, row 4, Supplier: “who” is not on the sheet Suppliers."),
        (lambda book: book["Project"].cell(9, 2, "dollars"), "Project, row 9, Currency: Type the three letters"),
        (lambda book: book["Project"].cell(7, 2, "cubits"), "Project, row 7, Units: “cubits” is not one of"),
        (lambda book: book["Project"].cell(13, 2, "moon"), "Project, row 13, Deliver to: “moon” is not on the sheet"),
        (lambda book: book.remove(book["Offers"]), "Offers: season.xlsx has no sheet named “Offers”."),
        (lambda book: book["Sites"].cell(3, 2, "Field"), "Sites: The sheet “Sites” of season.xlsx needs a column"),
        (lambda book: book["Houses"].delete_rows(4, 9), "Houses: There is no house to plan."),
    ],
)
def test_a_problem_is_told_with_its_place(change: Callable[[object], None], said: str) -> None:
    problems = spoiled(change)
    assert any(text.startswith(said) for text in problems), problems


def test_all_problems_are_told_at_once_in_the_order_of_the_sheets() -> None:
    def change(book: object) -> None:
        for spoil in (
            put("Stock", "quantity", "many"),
            put("Houses", "length", "?"),
            put("Houses", "need_date", "soon", 5),
            put("Materials", "width", "thick"),
        ):
            spoil(book)

    problems = spoiled(change)
    assert [text.split(",")[0] for text in problems] == ["Materials", "Houses", "Houses", "Stock"]


def test_the_most_that_a_cell_may_hold_is_read() -> None:
    book = load_workbook(io.BytesIO(write_project(small_season())))
    also(
        answer("Tax, percent", 100),
        answer("Your address", "a" * 2000),
        put("Offers", "price_1", "0.1234"),
        put("Offers", "from_1", None),
        put("Stock", "quantity", 0),
    )(book)
    out = io.BytesIO()
    book.save(out)
    read = read_project(out.getvalue(), "season.xlsx")
    assert (read.buyer.tax_percent, read.buyer.address) == (100, "a" * 2000)
    first = read.offers[0].breaks[0]
    assert (first.from_quantity, first.unit_price) == (1, Decimal("0.1234"))
    assert read.lots[0].quantity == 0


def test_a_fault_of_a_recipe_is_told_once_and_its_houses_are_looked_at_later() -> None:
    problems = spoiled(also(put("Recipes", "insertion", "11'"), put("Houses", "recipe", "12 ft", 5)))
    assert [text.split(":")[0] for text in problems] == ["Recipes, row 4, Insertion"]
    problems = spoiled(also(put("Recipes", "radius", "?"), put("Houses", "post_depth", "9'")))
    assert [text.split(":")[0] for text in problems] == ["Recipes, row 4, Bend radius"]


def test_progress_is_told_sheet_by_sheet() -> None:
    said: list[tuple[int, int, str]] = []
    read_project(write_project(small_season()), "season.xlsx", progress=lambda *told: said.append(told))
    count = len(layout.SHEETS)
    assert said == [(n, count, f"Reading the sheet {sheet.title}") for n, sheet in enumerate(layout.SHEETS, 1)]


def test_rows_marked_as_example_and_empty_rows_are_left_out() -> None:
    book = load_workbook(io.BytesIO(write_project(small_season())))
    stock = book["Stock"]
    stock.append(["Invented EXAMPLE", "x", "nothing"])
    stock.append([None])
    stock.append(["only a note"])
    out = io.BytesIO()
    book.save(out)
    assert read_project(out.getvalue(), "season.xlsx") == small_season()


def test_names_left_empty_are_made_from_the_row() -> None:
    book = load_workbook(io.BytesIO(write_project(small_season())))
    book["Stock"].cell(5, column("Stock", "ref")).value = None
    book["Houses"].cell(4, column("Houses", "name")).value = None
    out = io.BytesIO()
    book.save(out)
    read = read_project(out.getvalue(), "season.xlsx")
    assert read.lots[1].ref == "stock row 5"
    assert read.houses[0].name == "A"


def test_lengths_are_read_in_the_unit_of_the_project() -> None:
    book = load_workbook(io.BytesIO(write_project(small_season(UnitSystem.METRIC))))
    book["Houses"].cell(4, column("Houses", "length")).value = 15
    book["Houses"].cell(4, column("Houses", "hip_board_lengths")).value = "2 440 mm; 3.66 m; 4880mm"
    out = io.BytesIO()
    book.save(out)
    spec = read_project(out.getvalue(), "season.xlsx").houses[0].spec
    assert spec.length == 15_000
    assert spec.hip_board_lengths == (2440, 3660, 4880)


@pytest.mark.parametrize("data", [b"", b"not a workbook", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"0" * 512])
def test_what_is_no_workbook_is_refused_whole(data: bytes) -> None:
    with pytest.raises(WorkbookError):
        read_project(data, "season.xlsx")


def test_a_workbook_of_something_else_names_the_sheets_it_lacks() -> None:
    with pytest.raises(ProjectProblems) as caught:
        read_project(xlsx([["Hello"]], title="Letter"), "letter.xlsx")
    assert [p.sheet for p in caught.value.problems] == [
        "Project",
        *(sheet.title for sheet in layout.SHEETS if not sheet.may_be_missing),
    ]


def test_ten_foot_sticks_come_back_exactly() -> None:
    lots = (Lot("a", "rail-1-3-8", feet(10) / 3 + Decimal("0.000001"), 1, Decimal("0.3333"), ""),)
    exact = replace(lots[0], length=lots[0].length.quantize(Decimal("0.000001")))
    written = season(house("A", TWELVE), lots=(exact,))
    assert read_project(write_project(written), "s.xlsx").lots == (exact,)


def test_headings_of_workbooks_written_before_are_read() -> None:
    """Last year's heading of a column, with its unit too; both at once are refused, since one would be lost."""
    written = small_season()
    book = load_workbook(io.BytesIO(write_project(written)))
    sheet = book["Recipes"]
    head = next(cell for row in sheet.iter_rows() for cell in row if str(cell.value).startswith("Stop gap"))
    tail = str(head.value).removeprefix("Stop gap")
    for former in ("Stop short of flat by", f"Stop short of flat by{tail}"):
        head.value = former
        assert read_project(_bytes(book), "season.xlsx") == written
    sheet.cell(head.row, sheet.max_column + 1, "Stop gap")
    with pytest.raises((ProjectProblems, WorkbookError)) as refused:
        read_project(_bytes(book), "season.xlsx")
    assert "Stop gap" in str(refused.value)


def _bytes(book: Workbook) -> bytes:
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
