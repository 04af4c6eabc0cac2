"""What a change of houses means for what is ordered and held, as a workbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.words import (
    COUNT,
    DAY,
    LENGTH,
    LENGTH_TEXT,
    length_number,
    length_text,
    money_format,
    money_look,
    small_unit,
)
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Formula, Look

TOTAL_LABEL = Look(total=True)


@dataclass(frozen=True)
class ChangeLine:
    """``money`` in the buyer's currency, rounded to coins; ``length`` in mm; ``what`` is summed by."""

    material: str
    length: Decimal | None
    quantity: int | None
    what: str
    supplier: str
    order: str
    there_on: date | None
    days_late: int
    money: Decimal


def change_workbook(
    *, lines: Sequence[ChangeLine], title: str, day: date, author: str, units: UnitSystem, currency: str
) -> bytes:
    """The bytes of an .xlsx file with one sheet, and a sum for each of the things that happen."""
    book = Book(title=title, author=author, stamp=day, units=units)
    columns = [
        Column("Material", 34, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {small_unit(units)}", 11, LENGTH),
        Column("Pieces", 10, COUNT),
        Column("What", 34, WRAPPED),
        Column("Supplier", 26, WRAPPED),
        Column("Order", 12, WRAPPED),
        Column("There on", 14, DAY),
        Column("Days late", 10, COUNT),
        Column(f"Money, {currency}", 15, money_look(currency)),
    ]
    sheet = book.sheet("Change", columns, freeze=3, landscape=True, foot=f"{title}, {author}")
    sheet.row([title], TITLE, height=24)
    sheet.row(
        ["Money is with tax; what lies over is at its cost in stock, and common stock at its price for members."],
        NOTE,
        height=20,
    )
    sheet.join(1, len(columns))
    sheet.headings()
    for line in lines:
        sheet.row(
            [
                line.material,
                length_text(line.length, units),
                length_number(line.length, units),
                line.quantity,
                line.what,
                line.supplier or None,
                line.order or None,
                line.there_on,
                line.days_late or None,
                line.money,
            ]
        )
    last = sheet.rows
    looks = [TOTAL_LABEL] * 9 + [Look(number=money_format(currency), align="right", total=True)]
    for what in dict.fromkeys(line.what for line in lines):
        summed = sum((line.money for line in lines if line.what == what), Decimal(0))
        formula = Formula(f"SUMIF(E4:E{last},E{sheet.rows + 1},J4:J{last})", summed)
        sheet.row(["In all", *[None] * 3, what, *[None] * 4, formula], looks)
    sheet.finish()
    return book.to_bytes()
