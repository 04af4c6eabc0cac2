"""What is left in the yard after a season, as a workbook."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.words import (
    COUNT,
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
class LeftLine:
    """``value`` in the buyer's currency, rounded to coins; ``length`` in mm."""

    material: str
    length: Decimal | None
    offcut: bool
    quantity: int
    place: str
    lot: str
    age: int
    serves: str
    value: Decimal


def season_end_workbook(
    *, lines: Iterable[LeftLine], day: date, told: str, author: str, units: UnitSystem, currency: str
) -> bytes:
    """The bytes of an .xlsx file with one sheet; ``told`` says in a sentence what was asked."""
    book = Book(title="Leftovers", author=author, stamp=day, units=units)
    columns = [
        Column("Material", 34, WRAPPED),
        Column("Length", 12, LENGTH_TEXT),
        Column(f"Length, {small_unit(units)}", 11, LENGTH),
        Column("Offcut", 8),
        Column("Left", 10, COUNT),
        Column("Place", 24, WRAPPED),
        Column("Lot", 14, WRAPPED),
        Column("Age, days", 10, COUNT),
        Column("Next houses it would serve", 40, WRAPPED),
        Column(f"Value, {currency}", 15, money_look(currency)),
    ]
    sheet = book.sheet("Left", columns, freeze=3, landscape=True, foot=f"Leftovers, {author}")
    sheet.row(["Leftovers after the season"], TITLE, height=24)
    sheet.row([told], NOTE, height=20)
    sheet.join(1, len(columns))
    sheet.headings()
    worth = Decimal(0)
    for line in lines:
        worth += line.value
        sheet.row(
            [
                line.material,
                length_text(line.length, units),
                length_number(line.length, units),
                "yes" if line.offcut else None,
                line.quantity,
                line.place,
                line.lot,
                line.age,
                line.serves,
                line.value,
            ]
        )
    last = sheet.rows
    if last > 3:
        looks = [TOTAL_LABEL] * 10
        looks[9] = Look(number=money_format(currency), align="right", total=True)
        total = [None] * 10
        # Money alone: sticks are not added to screws.
        total[0], total[9] = "In all", Formula(f"SUM(J4:J{last})", worth)
        sheet.row(total, looks)
    sheet.finish()
    return book.to_bytes()
