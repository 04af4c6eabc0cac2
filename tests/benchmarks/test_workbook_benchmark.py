"""A supplier's order of 2,000 lines, or 10,000 in the long run, against the bare openpyxl write of the same cells."""

from __future__ import annotations

import io
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import pytest
from openpyxl import Workbook, load_workbook
from pytest_benchmark.fixture import BenchmarkFixture

from farmbuild.planning.inputs import Site, Supplier
from farmbuild.planning.results import Order, OrderLine
from farmbuild.workbooks.orders import order_workbook
from tests.benchmarks.turns import by_turns
from tests.planning.seasons import BUYER, BY_CODE, MATERIALS, inches
from tests.size import sized

LINES = sized(2_000, 10_000)
MAX_RATIO = 1.5
ROUNDS = 5


def big_order() -> Order:
    lines = []
    for n in range(1, LINES + 1):
        material = MATERIALS[n % len(MATERIALS)]
        quantity, price = 5 * (n % 40 + 1), Decimal(n % 3000 + 1) / 100
        total = quantity * price
        lines.append(
            OrderLine(
                offer=f"o{n}",
                supplier_code=f"IP-{n:05d}",
                material=material.code,
                description=material.name,
                length=inches(60 + n % 200) if material.by_length else None,
                needed=quantity,
                pack=5,
                packs=quantity // 5,
                quantity=quantity,
                unit_price=price,
                line_total=total,
                tax=(total * BUYER.tax_percent / 100).quantize(Decimal("0.01"), ROUND_HALF_UP),
                need_by=date(2027, 4, 1 + n % 28),
                late_days=0,
            )
        )
    goods = sum(line.line_total for line in lines)
    tax = sum(line.tax for line in lines)
    day = date(2027, 3, 1)
    return Order("pipe", "north", tuple(lines), goods, Decimal(85), tax, goods + 85 + tax, day, day, None)


@pytest.fixture(scope="module")
def order() -> Order:
    return big_order()


def ours(order: Order) -> bytes:
    return order_workbook(
        order=order,
        number="2027-1",
        buyer=BUYER,
        supplier=Supplier("pipe", "Invented Pipe", "", "", Decimal(85)),
        site=Site("north", "North Field"),
        order_date=date(2027, 2, 1),
        materials=BY_CODE,
    )


@pytest.fixture(scope="module")
def cells(order: Order) -> list[list[object]]:
    """The same cells as values: text, numbers, dates and formulas, at the same places."""
    sheet = load_workbook(io.BytesIO(ours(order)))["Order"]
    return [[cell.value for cell in row] for row in sheet.iter_rows()]


def bare(cells: list[list[object]]) -> bytes:
    """openpyxl's own fastest way, write-only mode, with values alone: no looks, widths or page set-up."""
    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("Order")
    for row in cells:
        sheet.append(row)
    out = io.BytesIO()
    workbook.save(out)
    return out.getvalue()


def filled(data: bytes) -> list[tuple[str, object]]:
    rows = load_workbook(io.BytesIO(data))["Order"].iter_rows()
    return [(cell.coordinate, cell.value) for row in rows for cell in row if cell.value is not None]


def test_both_hold_the_same_cells(order: Order, cells: list[list[object]]) -> None:
    # A formula's own cell is the same too: openpyxl reads the formula, not its result.
    assert filled(bare(cells)) == filled(ours(order))
    assert sum(1 for _ in order.lines) == LINES


def test_order_takes_at_most_half_as_long_again_as_the_bare_write(
    benchmark: BenchmarkFixture, order: Order, cells: list[list[object]]
) -> None:
    our_time, bare_time = by_turns(lambda: ours(order), lambda: bare(cells), rounds=ROUNDS, enough=MAX_RATIO)
    ratio = our_time / bare_time
    print(f"\norder workbook {our_time:.3f} s, bare write {bare_time:.3f} s: {ratio:.2f} times")
    benchmark.extra_info["times"] = round(ratio, 3)
    benchmark.pedantic(ours, args=(order,), rounds=1)
    assert ratio <= MAX_RATIO
