"""The order sheet as the supplier sends it back: what stands on each line, and what cannot be read.

The columns are those that orders.py writes. A price or day that the supplier wrote over ours counts as much as one
in the columns that are his. Quantities are formulas in our sheet; ours are worked out, any other is refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from farmbuild.workbooks.cells import Cell, CellError, as_date, as_money, as_quantity, as_text
from farmbuild.workbooks.headings import key
from farmbuild.workbooks.orders import CONFIRMED_PRICE, PROMISED_DATE, REMARK
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.reading import Book, Row, Rules, Table

MAX_LINES = 20_000
_EARLIEST, _LATEST = date(2000, 1, 1), date(2100, 12, 31)
_NUMBER = re.compile(r"Purchase order\s+(\S+)", re.IGNORECASE)
REQUIRED = frozenset({"number", "item", "quantity", "price"})


@dataclass(frozen=True)
class ReplyLine:
    """One row of the sheet. None: nothing stands there. ``number`` is that of the order's line.

    ``price`` and ``promised`` are from the supplier's own columns, ``price_over`` and ``needed_by`` from ours.
    ``problems``: heading of the column and sentence.
    """

    row: int
    number: int | None
    item: str
    code: str
    quantity: int | None
    price: Decimal | None
    price_over: Decimal | None
    promised: date | None
    needed_by: date | None
    remark: str
    problems: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ReplySheet:
    """``order``: the number in the head of the sheet, "" when the head was taken off."""

    order: str
    lines: tuple[ReplyLine, ...]


def _headings(currency: str) -> dict[str, tuple[str, ...]]:
    return {
        "number": ("No.", "No"),
        "item": ("Item",),
        "code": ("Your item number",),
        "pack": ("Pieces in a pack",),
        "packs": ("Packs",),
        "quantity": ("Quantity",),
        "price": (f"Price of one, {currency}",),
        "needed_by": ("Needed by",),
        "confirmed": (f"{CONFIRMED_PRICE}, {currency}", CONFIRMED_PRICE),
        "promised": (PROMISED_DATE,),
        "remark": (REMARK,),
    }


def _ours(currency: str) -> Callable[[str], bool]:
    """Columns of our sheet that are for reading only; those of the tax are headed by its own name."""
    known = {key(text) for text in ("Size", "Length", "Length, in", "Length, mm", "Deliver to")}
    ends = (f", {currency.casefold()}", ", %")
    return lambda heading: heading in known or heading.endswith(ends)


def read_reply(data: bytes, filename: str, *, currency: str) -> ReplySheet:
    """Raises WorkbookError when it is no order sheet in ``currency``; what is wrong with a row stands at the row."""
    book = Book(data, filename)
    table = book.table(
        headings=_headings(currency), required=REQUIRED, max_rows=MAX_LINES + 20, rules=Rules(unread=_ours(currency))
    )
    lines = tuple(_line(row, table, currency) for row in _above_the_totals(table))
    if not lines:
        raise WorkbookError(f"{filename} has the headings of an order but no lines under them.")
    return ReplySheet(_order_number(book, table), lines)


def _above_the_totals(table: Table) -> list[Row]:
    """The lines end where the sums begin: their labels stand in the column of the quantities."""
    found = []
    for row in table.rows:
        if row["number"].blank and row["quantity"].text.casefold() == "goods":
            break
        found.append(row)
    return found


def _order_number(book: Book, table: Table) -> str:
    for cells in book.above(table):
        for cell in cells:
            if match := _NUMBER.match(cell.text):
                return match[1]
    return ""


def _line(row: Row, table: Table, currency: str) -> ReplyLine:
    problems: dict[str, str] = {}

    def amount(cell: Cell) -> Decimal:
        return as_money(cell, currency=currency)

    def read(name: str, heading: str, how: Callable[[Cell], object], empty: object = None) -> object:
        cell = row[name]
        if cell.blank:
            return empty
        try:
            return how(cell)
        except CellError as error:
            problems[heading] = str(error)
            return empty

    number = read("number", "No.", lambda cell: as_quantity(cell, least=1))
    return ReplyLine(
        row=row.number,
        number=number,
        item=read("item", "Item", lambda cell: as_text(cell, most=240), ""),
        code=read("code", "Your item number", lambda cell: as_text(cell, most=60), ""),
        quantity=read("quantity", "Quantity", lambda cell: _quantity(cell, row, table)),
        price=read("confirmed", CONFIRMED_PRICE, amount),
        price_over=read("price", "Price of one", amount),
        promised=read("promised", PROMISED_DATE, _day),
        needed_by=read("needed_by", "Needed by", _day),
        remark=read("remark", REMARK, as_text, ""),
        problems=problems,
    )


def _quantity(cell: Cell, row: Row, table: Table) -> int:
    letters = table.columns
    if cell.formula and "pack" in letters and "packs" in letters:
        ours = f"={letters['pack']}{row.number}*{letters['packs']}{row.number}"
        if cell.text.replace("$", "").replace(" ", "").upper() == ours:
            return as_quantity(row["pack"], least=1) * as_quantity(row["packs"])
    return as_quantity(cell)


def _day(cell: Cell) -> date:
    day = as_date(cell)
    if not _EARLIEST <= day <= _LATEST:
        raise CellError(
            f"{day.isoformat()} cannot be right. Type a day from {_EARLIEST.year} to {_LATEST.year}, "
            "for example 2027-05-12."
        )
    return day
