"""What rows of all kinds of lists are understood as, and what is said of those that are not."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import Workbook

from farmbuild.catalogue.lists.columns import guess, role_of
from farmbuild.measure import NumberStyle, use_style
from farmbuild.orgs.models import Organisation
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.reading import Cell
from tests.catalogue.lists.conftest import DAY, LIST
from tests.factories import FOOT, OfferFactory

pytestmark = pytest.mark.django_db
COMMA = NumberStyle(",", " ")


def rows_of(shop, text, name="list.csv", **said):
    return shop.understood(shop.send(text, name, **said)).rows


def one(shop, head, cells, **said):
    """The only row of a list of one, and what is wrong with it."""
    row = rows_of(shop, f"{head}\n{cells}\n", **said)[0]
    return row, " ".join(row.problems.values())


def prices(shop, price, head="Item,Description,Length,Price", **said):
    row, problem = one(shop, head, f'X,1-3/8 rail,10\',"{price}"', **said)
    return problem or row.prices[0][1]


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("Item No.", "code"),
        ("SKU", "code"),
        ("Description", "name"),
        ("Bezeichnung", "name"),
        ("Descripton", "name"),
        ("Price USD", "price"),
        ("Unit price", "price"),
        ("Price (USD)", "price"),
        ("50+", "price:50"),
        ("from 200", "price:200"),
        ("50-199", "price:50"),
        ("Lead time", "lead"),
        ("Lieferzeit", "lead"),
        ("Length, ft", "length"),
        ("MOQ", "minimum"),
        ("Colour", ""),
        ("", ""),
    ],
)
def test_a_column_by_its_heading(heading, role):
    assert role_of(heading) == role


def test_columns_by_what_stands_in_them():
    """No headings at all: a known item number, the longest words, and what has decimals."""
    rows = [(n, [Cell(f"IP-{n}"), Cell("1-3/8 rail"), Cell("4"), Cell("$14.60")]) for n in range(1, 4)]
    found = guess(rows, codes={"ip-1", "ip-2", "ip-3"}, names={"1-3/8 rail"})
    assert (found.head, found.roles) == (0, {0: "code", 1: "name", 3: "price"})


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("14.60", "14.60"),
        ("$14.60", "14.60"),
        ("14.60 USD", "14.60"),
        ("1,214.60", "1214.60"),
        ("1.46/ft", "14.60"),
        ("0", "no price"),
        ("0.00", "no price"),
        ("-3", "below zero"),
        ("14,60 €", "in €, and yours are in USD"),
        ("€14.60", "in €, and yours are in USD"),
        ("14.60 CHF", "in CHF, and yours are in USD"),
        ("on request", "Type it like 12.50"),
        ("14.60123", "more than 4 decimals"),
        ("=B2*2", "formula"),
        ("0.0001/100", "cannot be read"),
        ("3/mile", "“mile” is not known"),
    ],
)
def test_a_price(shop, typed, read):
    found = prices(shop, typed)
    assert found == Decimal(read) if isinstance(found, Decimal) else read in found, found


def test_a_decimal_comma(shop):
    Organisation.objects.update(currency="EUR", decimal_sign=",", unit_system="metric")
    shop.organisation.refresh_from_db()
    with use_style(COMMA):
        row = rows_of(shop, "Artikelnummer;Bezeichnung;Länge;Preis\nX;1-3/8 rail;6 m;1.234,50 €\n")[0]
        assert (row.prices, row.length) == ([(1, Decimal("1234.50"))], Decimal(6000))
        row = rows_of(shop, "Artikelnummer;Bezeichnung;Länge;Preis\nX;1-3/8 rail;6 m;$ 14,50\n")[0]
        assert "in $, and yours are in EUR" in row.problems["price"]


@pytest.mark.parametrize(("currency", "typed", "price"), [("KWD", "4.125", "4.125"), ("JPY", "¥1450", "1450")])
def test_coins_of_three_decimals_and_of_none(shop, currency, typed, price):
    Organisation.objects.update(currency=currency)
    shop.organisation.refresh_from_db()
    assert prices(shop, typed) == Decimal(price)


@pytest.mark.parametrize(
    ("per", "price"),
    [("each", "14.60"), ("pack", "1.46"), ("ft", "146"), ("m", "44.5008"), ("100", "0.146"), ("/1000", "0.0146")],
)
def test_what_a_price_is_for(shop, per, price):
    head = "Item,Description,Length,Pack,Per,Price"
    row, problem = one(shop, head, f"X,1-3/8 rail,10',10,{per},14.60")
    assert (problem, row.prices) == ("", [(1, Decimal(price))])
    # The same said once for the whole list.
    name = {"ft": "foot", "m": "metre", "each": "piece", "/1000": "1000"}.get(per, per)
    row, problem = one(shop, head.replace("Per,", ""), "X,1-3/8 rail,10',10,14.60", per=name)
    assert (problem, row.prices) == ("", [(1, Decimal(price))])


def test_prices_with_tax_where_ours_are_before_it(shop):
    Organisation.objects.update(tax_percent=Decimal("6.25"))
    shop.organisation.refresh_from_db()
    assert prices(shop, "10.625", tax="with") == Decimal("10.0000")
    assert prices(shop, "10.625") == Decimal("10.625")


@pytest.mark.parametrize(
    ("typed", "days"), [("6", 6), ("6 days", 6), ("2 weeks", 14), ("", None), ("soon", "“soon”"), ("800", "730")]
)
def test_a_lead_time(shop, typed, days):
    row, problem = one(shop, "Item,Description,Length,Price,Lead time", f"X,1-3/8 rail,10',14.60,{typed}")
    assert days in problem if isinstance(days, str) else row.lead_days == days


def test_lengths_by_column_by_name_and_for_the_whole_list(shop):
    head = "Item,Description,Price"
    assert one(shop, head, 'X,"1-3/8 rail, 10\'",14.60')[0].length == FOOT * 10
    _, problem = one(shop, head, "X,1-3/8 rail,14.60")
    assert "comes by length" in problem
    assert one(shop, head, "X,1-3/8 rail,14.60", length="3048")[0].length == FOOT * 10
    assert one(shop, 'Item,Description,"Length, m",Price', "X,1-3/8 rail,6,14.60")[0].length == Decimal(6000)
    assert one(shop, head, "X,Joint screw,0.07")[0].length is None


def test_price_breaks_in_columns_and_below_each_other(shop):
    beside = shop.understood(shop.send("Item,Description,Length,Price,50+,200+\nX,1-3/8 rail,10',14.60,13.40,12.75\n"))
    below = shop.understood(
        shop.send("Item,Description,Length,Qty,Price\nX,1-3/8 rail,10',1,14.60\n,,,50,13.40\n,,,200,12.75\n")
    )
    steps = [(1, Decimal("14.60")), (50, Decimal("13.40")), (200, Decimal("12.75"))]
    assert beside.changes[0].now == below.changes[0].now == steps


def test_the_first_price_from_a_pack_is_the_price(shop):
    found = shop.understood(shop.send("Item,Description,Pack,From,Price\nX,Joint screw,100,100,0.07\n"))
    assert found.changes[0].now == [(1, Decimal("0.07"))]


def problems(shop, text, **said):
    found = shop.understood(shop.send(text, **said))
    return {row.number: " ".join(row.problems.values()) for row in found.rows if row.problems}


def test_what_does_not_go_together_is_said_at_its_row(shop):
    head = "Item,Description,Length,From,Price\n"
    assert "Row 2 has a price" in problems(shop, head + "X,1-3/8 rail,10',1,14\nX,1-3/8 rail,10',1,15\n")[3]
    assert "Add the price from 1" in problems(shop, head + "X,1-3/8 rail,10',50,14\n")[2]
    assert "is above the one from 1" in problems(shop, head + "X,1-3/8 rail,10',1,14\nX,1-3/8 rail,10',50,15\n")[3]
    # Left out by choice, the rest is right.
    text = head + "X,1-3/8 rail,10',1,14\nX,1-3/8 rail,10',1,15\n"
    assert shop.understood(shop.send(text, choices={"3": "-"})).ready


def test_a_minimum_beyond_the_pack_and_other_tax_are_said(shop):
    head = "Item,Description,Pack,MOQ,Price,VAT\n"
    Organisation.objects.update(tax_percent=Decimal("6.25"))
    shop.organisation.refresh_from_db()
    said = problems(
        shop, head + "A,Joint screw,10,50,0.07,6.25\nB,Joint screw,10,10,0.07,20\nC,Joint screw,50,50,0.07,6.25%\n"
    )
    assert "sold at once" in said[2] and "you have 6.25 %" in said[3] and 4 not in said


def test_rows_are_matched_by_code_by_last_time_and_by_name(shop):
    rail = shop.organisation
    OfferFactory(supplier=shop.supplier, material__organisation=rail, material__name="Odd tube", supplier_code="IP-7")
    text = "Item,Our code,Description,Length,Price\n,rail,any words,10',1\nIP-7,,Tube 7,10',1\n"
    text += ",,2x6 board,12',1\n,,No such,1',1\n"
    rows = rows_of(shop, text)
    assert [str(row.material) for row in rows] == ["1-3/8 rail", "Odd tube", "2x6 board", "None"]
    assert rows[3].state == "unknown"


def test_what_is_chosen_once_holds_for_the_rows_alike_and_for_next_year(shop):
    text = "Item,Description,Length,From,Price\nQ-1,Top rail galv,10',1,14\nQ-1,Top rail galv,10',50,13\n"
    made = shop.send(text, choices={"2": "rail"})
    assert [row.state for row in shop.understood(made).rows] == ["right", "right"]
    shop.take(made)
    assert [row.state for row in rows_of(shop, text)] == ["right", "right"]
    # By name alone, where the next list has no item numbers.
    assert rows_of(shop, "Description,Length,Price\nTop rail galv,10',14\n")[0].state == "right"


def test_rows_that_nobody_buys_are_left_out_at_once(shop):
    text = LIST + "Z,Something else,,1,1,9.00,\n"
    assert not shop.understood(shop.send(text)).ready
    assert shop.understood(shop.send(text, only_known=True)).ready


def test_titles_and_rows_without_a_price_are_told(shop):
    rows = rows_of(shop, "Item,Description,Length,Price\nTUBES,,,\nX,1-3/8 rail,10',14.60\nY,2x6 board,12',\n")
    assert [(row.number, row.state) for row in rows] == [(2, "no price"), (3, "right"), (4, "no price")]


def test_a_price_that_ended_or_begins_later(shop):
    head = "Item,Description,Length,Price,Valid from,Valid until\n"
    said = problems(shop, head + "A,1-3/8 rail,10',1,2027-06-01,\nB,1-3/8 rail,20',1,,2027-01-05\n")
    assert "holds from 2027-06-01 only" in said[2] and "ended on 2027-01-05" in said[3]
    row = rows_of(shop, head + "A,1-3/8 rail,10',1,2027-01-01,2027-12-31\n")[0]
    assert (row.since, row.until) == (date(2027, 1, 1), date(2027, 12, 31))


def book(*sheets):
    made = Workbook()
    made.remove(made.active)
    for name, state, rows in sheets:
        sheet = made.create_sheet(name)
        sheet.sheet_state = state
        for row in rows:
            sheet.append(row)
    return made


def sent(made):
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


HEAD = ["Item no", "Description", "Length", "Price"]


def test_hidden_sheets_are_not_read_and_one_of_several_can_be_chosen(shop):
    made = book(
        ("Cover", "visible", [["Prices of Invented Pipe"]]),
        ("Costs", "hidden", [HEAD, ["X", "1-3/8 rail", "10'", 1.11]]),
        ("2027", "visible", [["Invented Pipe"], [], HEAD, ["X", "1-3/8 rail", "10'", 14.6]]),
    )
    kept = shop.send(sent(made), "book.xlsx")
    assert [sheet["name"] for sheet in kept.sheets] == ["Cover", "2027"] and kept.said["sheet"] == 1
    (row,) = shop.understood(kept).rows
    assert (row.number, row.prices) == (4, [(1, Decimal("14.6"))])
    assert "Say which column has the price" in shop.understood(shop.say(kept, sheet=0)).problem


def test_merged_cells_formulas_errors_dates_and_money_of_others(shop):
    made = book(
        (
            "List",
            "visible",
            [
                [*HEAD, "From"],
                ["X", "1-3/8 rail", "10'", 14.6, 1],
                [None, None, None, 13.4, 50],
                ["Y", "2x6 board", "12'", "=D2*2", 1],
                ["Z", "2x6 board", "14'", "#N/A", 1],
                ["V", "2x6 board", "15'", date(2027, 1, 2), 1],
                ["W", "2x6 board", "16'", 9.5, 1],
                ["U", "2x6 board", "18'", 9.5, 1],
            ],
        )
    )
    sheet = made["List"]
    for column in "ABC":
        sheet.merge_cells(f"{column}2:{column}3")
    sheet["D5"].data_type = "e"
    sheet["D7"].number_format = "#,##0.00\\ [$€-407]"
    sheet["D8"].number_format = '"$"#,##0.00'
    found = shop.understood(shop.send(sent(made), "book.xlsx"))
    assert found.rows[1].under == 2 and found.rows[1].state == "right"
    said = {row.number: row.problems.get("price", "") for row in found.rows}
    assert "formula" in said[4] and "error" in said[5] and "date" in said[6] and "in €" in said[7] and not said[8]


def test_the_heading_names_other_money(shop):
    found = shop.understood(shop.send("Item,Description,Length,Price EUR\nX,1-3/8 rail,10',14.60\n"))
    assert found.problem == "“Price EUR” is in EUR, and your prices are in USD. Ask for a list in USD."


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (b"", "list.csv", "empty"),
        (b"PK\x03\x04junk", "list.xlsx", "list.xlsx"),
        (b"no spreadsheet", "list.xlsx", "not a spreadsheet"),
        (("Item,Price\n" + "X,1\n" * 5001).encode(), "list.csv", "more than 5,000 rows"),
        ((",".join(f"c{n}" for n in range(50)) + "\n").encode(), "list.csv", "50 columns; 40 is the most"),
        (b'a,b\n"x,1\n', "list.csv", "quotation mark"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "list.xls", "old .xls format"),
        (b"x" * (5 * 1024 * 1024 + 1), "list.csv", "larger than 5 MB"),
    ],
)
def test_what_is_no_list(shop, data, name, words):
    with pytest.raises(WorkbookError, match=words):
        shop.send(data, name)


def test_pasted_rows_and_codes_of_text_read_alike(shop):
    def said(data):
        return [(row.state, row.prices, row.length) for row in rows_of(shop, data)]

    text = "Item no\tDescription\tLength\tPrice\nX\t1-3/8 rail\t10'\t14.60\n"
    wanted = said(text)
    assert wanted == [("right", [(1, Decimal("14.60"))], FOOT * 10)]
    assert said(text.replace("\t", ";")) == said(text.replace("\t", ",")) == wanted
    for code in ("utf-8-sig", "utf-16", "cp1252"):
        assert said(text.encode(code)) == wanted
    assert shop.understood(shop.send(text)).terms.since == DAY
