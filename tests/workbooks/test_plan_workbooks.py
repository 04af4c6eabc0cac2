"""Orders, cut list, take-off and leftovers, against the plan and against LibreOffice."""

from __future__ import annotations

import io
import json
import random
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest
from openpyxl import load_workbook

from farmbuild.measure import Unit, UnitSystem, parse_length
from farmbuild.planning.inputs import Site, Supplier
from farmbuild.planning.results import Order, OrderLine
from farmbuild.planning.season.snapshot import plan_from_json
from farmbuild.workbooks.cut_lists import BOX, boxes
from farmbuild.workbooks.orders import FIRST_LINE, order_workbook
from farmbuild.workbooks.services import (
    count_plan_files,
    cut_list_workbook,
    leftovers_workbook,
    plan_files,
    takeoff_workbook,
)
from tests.planning.seasons import BUYER, BY_CODE, feet
from tests.workbooks.books import all_recalculated, patched, recalculated, small_plan, small_season

COIN = Decimal("0.01")
SUPPLIER = Supplier("pipe", "Invented Pipe", "3 Invented Quay", "Counter", Decimal(85), Decimal(3000))
SITE = Site("north", "North Field", "1 Invented Lane\nLarkspur")


def coins(amount: Decimal) -> Decimal:
    return amount.quantize(COIN, ROUND_HALF_UP)


def money(value: object) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal("0.000001"))


def line(quantity: int, price: str, *, pack: int = 1, tax: Decimal = BUYER.tax_percent, **more: object) -> OrderLine:
    total = coins(quantity * Decimal(price))
    values = {
        "offer": "o",
        "supplier_code": "IP-1",
        "material": "rail-1-3-8",
        "description": "1-3/8 top rail",
        "length": feet(10),
        "needed": quantity,
        "pack": pack,
        "packs": quantity // pack,
        "quantity": quantity,
        "unit_price": Decimal(price),
        "line_total": total,
        "tax": coins(total * tax / 100),
        "need_by": date(2027, 4, 5),
        "late_days": 0,
    }
    return OrderLine(**(values | more))


def order(*lines: OrderLine, delivery: str = "85") -> Order:
    goods, tax = (sum((getattr(row, f) for row in lines), Decimal(0)) for f in ("line_total", "tax"))
    return Order(
        supplier="pipe",
        delivery_site="north",
        lines=lines,
        goods=goods,
        delivery=Decimal(delivery),
        tax=tax,
        total=goods + tax + Decimal(delivery),
        order_by=date(2027, 3, 1),
        need_by=date(2027, 4, 5),
        weight_kg=Decimal("120.5"),
    )


def workbook(of: Order, **more: object) -> bytes:
    values = {
        "order": of,
        "number": "2027-7",
        "buyer": BUYER,
        "supplier": SUPPLIER,
        "site": SITE,
        "order_date": date(2027, 2, 1),
        "materials": BY_CODE,
    }
    return order_workbook(**(values | more))


def totals(sheet, order: Order) -> dict[str, object]:
    first = FIRST_LINE + len(order.lines)
    rows = sheet.iter_rows(min_row=first, max_row=first + 3, min_col=9, max_col=11, values_only=True)
    return {label: value for label, _, value in rows}


def expect(order: Order, tax_name: str = "Sales tax") -> dict[str, Decimal]:
    return {"Goods": order.goods, "Delivery": order.delivery, tax_name: order.tax, "Total": order.total}


def same_totals(sheet, order: Order) -> bool:
    return {k: money(v) for k, v in totals(sheet, order).items()} == {
        k: money(float(v)) for k, v in expect(order).items()
    }


def test_order_head_and_lines() -> None:
    of = order(line(30, "13.4", pack=10), line(7, "0.0855", material="screw", length=None))
    sheet = load_workbook(io.BytesIO(workbook(of)))["Order"]
    text = {cell.value for row in sheet.iter_rows(max_row=8) for cell in row if isinstance(cell.value, str)}
    for words in ("Purchase order 2027-7", BUYER.name, SUPPLIER.name, SITE.name, SITE.address, "USD", "Counter"):
        assert words in text
    assert sheet["C6"].value.date() == date(2027, 2, 1)
    assert sheet["E6"].value.date() == of.need_by
    values = [cell.value for cell in sheet[FIRST_LINE]]
    assert values[:8] == [1, "1-3/8 top rail", "IP-1", '1 3/8" outside, 0.065" wall', "10'", 120, 10, 3]
    assert values[8:12] == ["=G9*H9", 13.4, "=ROUND(I9*J9,2)", "=ROUND(K9*$C$7/100,2)"]
    assert sheet.cell(FIRST_LINE, 13).is_date
    assert [cell.value for cell in sheet[FIRST_LINE + 1]][4:6] == [None, None]
    # The supplier's columns are his to fill in.
    heads = [cell.value for cell in sheet[FIRST_LINE - 1]]
    assert heads[13:] == ["Confirmed price, USD", "Promised date", "Remark"]
    assert [cell.value for cell in sheet[FIRST_LINE]][13:] == [None, None, None]
    assert sheet.freeze_panes == "A9"
    assert sheet.print_title_rows == "$8:$8"
    assert sheet.print_area == f"'Order'!$A$1:$P${sheet.max_row}"


def test_order_is_in_the_unit_of_the_buyer() -> None:
    data = workbook(order(line(30, "13.4")), buyer=replace(BUYER, units=UnitSystem.METRIC))
    sheet = load_workbook(io.BytesIO(data))["Order"]
    assert sheet.cell(8, 6).value == "Length, mm"
    assert sheet.cell(FIRST_LINE, 6).value == 3048
    assert sheet.page_setup.paperSize == 9


def test_stored_results_stand_beside_the_formulas() -> None:
    of = order(line(30, "13.4"), line(13, "1.115"))
    sheet = load_workbook(io.BytesIO(workbook(of)), data_only=True)["Order"]
    assert same_totals(sheet, of)
    assert money(sheet["K1"].value) == money(float(of.total))


@pytest.mark.office
def test_every_order_of_a_season_recalculates_to_its_stored_totals(tmp_path) -> None:
    season, plan = small_season(), small_plan()
    assert len(plan.orders) >= 3
    files = dict(plan_files(season, plan, number_prefix="2027"))
    names = sorted(name for name in files if name.startswith("order-"))
    books = all_recalculated({Path(name).stem: files[name] for name in names}, tmp_path)
    for (name, book), of in zip(books.items(), sorted(plan.orders, key=lambda o: o.supplier), strict=True):
        sheet = book["Order"]
        assert same_totals(sheet, of), name
        for row, stored in enumerate(of.lines, FIRST_LINE):
            got = [sheet.cell(row, column).value for column in (9, 10, 11, 12)]
            want = [stored.quantity, stored.unit_price, stored.line_total, stored.tax]
            assert [money(v) for v in got] == [money(float(v)) for v in want]


@pytest.mark.office
def test_half_coins_round_as_they_are_stored(tmp_path) -> None:
    """Amounts that fall on half a coin, which binary numbers cannot hold."""
    chance = random.Random(5)
    lines = [line(1, f"{n}.{cents:02d}5") for n in (1, 2, 8, 1023, 98765) for cents in range(0, 100, 7)]
    for _ in range(1500):
        price = Decimal(chance.randrange(1, 10 ** chance.randrange(2, 8))).scaleb(-4)
        lines.append(line(chance.choice([1, 3, 5, 7, 15, 25, 50, 125, 500, 1001, 99999]), f"{price:f}"))
    of = order(*lines, delivery="0")
    sheet = recalculated(workbook(of), tmp_path)["Order"]
    for row, stored in enumerate(lines, FIRST_LINE):
        assert money(sheet.cell(row, 11).value) == money(float(stored.line_total)), stored
        assert money(sheet.cell(row, 12).value) == money(float(stored.tax)), stored
    assert same_totals(sheet, of)


@pytest.mark.office
@pytest.mark.parametrize(("currency", "decimals", "shown"), [("JPY", 0, "#,##0"), ("KWD", 3, "#,##0.000")])
def test_currencies_without_two_decimals(tmp_path, currency: str, decimals: int, shown: str) -> None:
    """ISO 4217: the yen has no smaller coin, the Kuwaiti dinar has thousandths."""
    coin = Decimal(1).scaleb(-decimals)
    lines = []
    for n in range(1, 60):
        price = Decimal(n * 137) / 1000
        total = (price * n).quantize(coin, ROUND_HALF_UP)
        tax = (total * BUYER.tax_percent / 100).quantize(coin, ROUND_HALF_UP)
        lines.append(line(n, f"{price:f}", line_total=total, tax=tax))
    of = order(*lines)
    data = workbook(of, buyer=replace(BUYER, currency=currency))
    cells = load_workbook(io.BytesIO(data))["Order"]
    assert cells.cell(FIRST_LINE, 11).value == f"=ROUND(I9*J9,{decimals})"
    assert cells.cell(FIRST_LINE, 11).number_format == shown
    sheet = recalculated(data, tmp_path)["Order"]
    for row, stored in enumerate(lines, FIRST_LINE):
        assert money(sheet.cell(row, 11).value) == money(float(stored.line_total))
    assert same_totals(sheet, of)


@pytest.mark.office
def test_totals_follow_a_changed_price(tmp_path) -> None:
    """The formulas are live: another price changes line, goods, delivery, tax and total."""
    of = order(line(100, "13.4"), line(10, "2"))

    def dearer(part: bytes) -> bytes:
        assert part.count(b"<v>13.4</v>") == 1
        return part.replace(b"<v>13.4</v>", b"<v>30.4</v>")

    changed = order(line(100, "30.4"), line(10, "2"), delivery="0")
    sheet = recalculated(patched(workbook(of), {"xl/worksheets/sheet1.xml": dearer}), tmp_path)["Order"]
    assert same_totals(sheet, changed)


def test_an_amount_that_the_terms_do_not_give_stands_as_it_is_stored() -> None:
    of = order(line(30, "13.4"), delivery="12.5")
    assert totals(load_workbook(io.BytesIO(workbook(of)))["Order"], of)["Delivery"] == 12.5


def test_injection_from_every_text_of_an_order() -> None:
    bad = "=1+1"
    of = order(line(1, "1", supplier_code=bad, description=bad, material="nobody-knows"))
    data = workbook(
        of,
        number=bad,
        buyer=replace(BUYER, name=bad, address=bad, contact=bad, tax_name=bad),
        supplier=replace(SUPPLIER, name=bad, address=bad, contact=bad),
        site=replace(SITE, name=bad, address=bad),
    )
    cells = [cell for row in load_workbook(io.BytesIO(data))["Order"].iter_rows() for cell in row]
    risky = [cell for cell in cells if cell.value == bad]
    assert len(risky) >= 9
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in risky)


def test_order_with_nothing_on_it_can_be_opened() -> None:
    of = order(delivery="0")
    assert same_totals(load_workbook(io.BytesIO(workbook(of)), data_only=True)["Order"], of)


def test_takeoff_holds_every_row() -> None:
    season, plan = small_season(), small_plan()
    sheet = load_workbook(io.BytesIO(takeoff_workbook(season=season, plan=plan)))["By house"]
    rows = list(sheet.iter_rows(min_row=4, values_only=True))
    assert [(row[2], row[6], row[9]) for row in rows] == [(r.purpose, r.quantity, r.working) for r in plan.takeoff]


@pytest.mark.office
def test_takeoff_recalculates(tmp_path) -> None:
    season, plan = small_season(), small_plan()
    sheet = recalculated(takeoff_workbook(season=season, plan=plan), tmp_path)["By material"]
    *rows, last = sheet.iter_rows(min_row=3, values_only=True)
    assert last[5] == sum(row.quantity for row in plan.takeoff) == sum(row[5] for row in rows)
    inches = sum((r.length * r.quantity for r in plan.takeoff if r.length), Decimal(0)) / Decimal("25.4")
    assert sum(row[7] for row in rows if row[7] is not None) == pytest.approx(float(inches), rel=1e-6)


@pytest.mark.office
def test_leftovers_recalculate_to_the_value_of_the_plan(tmp_path) -> None:
    season, plan = small_season(), small_plan()
    sheet = recalculated(leftovers_workbook(season=season, plan=plan), tmp_path)["Leftovers"]
    *rows, value, scrap = sheet.iter_rows(min_row=4, values_only=True)
    assert len(rows) == len(plan.leftovers) > 0
    assert money(value[7]) == money(float(plan.leftover_value))
    assert money(scrap[7]) == money(float(plan.scrap_value))
    assert sum(row[3] for row in rows) == sum(row.quantity for row in plan.leftovers)


def test_cut_list_goes_stick_by_stick_with_a_box_for_each() -> None:
    season, plan = small_season(), small_plan()
    book = load_workbook(io.BytesIO(cut_list_workbook(season=season, plan=plan)))
    rows = list(book["Cuts"].iter_rows(min_row=4, values_only=True))
    sticks = [row for row in rows if isinstance(row[5], int)]
    assert sum(row[5] for row in sticks) == sum(layout.times for layout in plan.layouts) > 0
    assert sum((row[12] or "").count(BOX) for row in sticks) == sum(row[5] for row in sticks)
    names = {house.ref: house.name for house in season.houses}
    pieces = Counter(row[10] for row in rows if row[6] and row[10] != "offcut")
    wanted = Counter(f"{names[piece.house]}: {piece.purpose}" for layout in plan.layouts for piece in layout.pieces)
    assert pieces == wanted
    assert rows[-1][5] == f"=SUM(F4:F{3 + len(rows) - 1})"


def test_marks_count_the_saw_cuts() -> None:
    season, plan = small_season(), small_plan()
    kerf = {row.material: row.kerf for row in plan.cut_summaries}
    at, layout = next((n, lay) for n, lay in enumerate(plan.layouts, 1) if len(lay.pieces) > 1 and kerf[lay.material])
    sheet = load_workbook(io.BytesIO(cut_list_workbook(season=season, plan=plan)))["Cuts"]
    rows = list(sheet.iter_rows(min_row=4, values_only=True))
    start = next(n for n, row in enumerate(rows) if row[0] == at)
    second = parse_length(rows[start + 2][8], Unit.INCH)
    exact = layout.pieces[0].length + kerf[layout.material] + layout.pieces[1].length
    assert abs(second - exact) <= Decimal("25.4") / 32


@pytest.mark.office
def test_cut_list_recalculates(tmp_path) -> None:
    season, plan = small_season(), small_plan()
    book = recalculated(cut_list_workbook(season=season, plan=plan), tmp_path)
    assert list(book["Cuts"].values)[-1][5] == sum(layout.times for layout in plan.layouts)
    assert list(book["Whole from the yard"].values)[-1][5] == sum(row.quantity for row in plan.allocations)
    for row, summary in zip(list(book["Proof"].values)[2:], plan.cut_summaries, strict=True):
        assert money(row[5]) == money(float(summary.cost - summary.bound))


@pytest.mark.parametrize("count", [1, 5, 6, 10, 11, 99])
def test_boxes(count: int) -> None:
    text = boxes(count)
    assert text.count(BOX) == count
    assert max(len(line) for line in text.split("\n")) <= 11


def test_files_of_a_plan() -> None:
    season, plan = small_season(), small_plan()
    files = list(plan_files(season, plan, number_prefix="S/1"))
    assert len(files) == count_plan_files(plan) == len({file.name.casefold() for file in files})
    assert files[0].name == "order-S-1-1-Invented-Grower-Supply.xlsx"
    assert plan_from_json(json.loads(files[-1].data)) == plan
    assert list(plan_files(season, plan, number_prefix="S/1")) == files


def test_suppliers_of_one_name_get_files_of_their_own() -> None:
    season, plan = small_season(), small_plan()
    twins = replace(season, suppliers=tuple(replace(s, name="../同じ") for s in season.suppliers))
    names = [file.name for file in plan_files(twins, plan, number_prefix="1")]
    assert len(set(names)) == len(names)
    assert all("/" not in name and "同じ" in name for name in names if name.startswith("order-"))
