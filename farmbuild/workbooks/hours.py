"""Hours of people as a workbook."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.words import COUNT
from farmbuild.workbooks.writing import DATE, NOTE, TITLE, WRAPPED, Book, Column, Formula, Look

_HOURS = Look(number="#,##0.00", align="right")
_TOTAL = Look(number="#,##0.00", align="right", total=True)
_DAY = Look(number=DATE, align="left")


@dataclass(frozen=True)
class HourLine:
    """``hours`` of one person; ``done`` in units of the work, None where nothing is counted."""

    day: date
    crew: str
    who: str
    house: str
    work: str
    clock: str
    hours: Decimal
    people: int
    done: int | None
    state: str
    reason: str


def hours_workbook(*, lines: Iterable[HourLine], day: date, told: str, author: str, units: UnitSystem) -> bytes:
    """The bytes of an .xlsx file with one sheet; ``told`` says in a sentence what is in it."""
    book = Book(title="Hours", author=author, stamp=day, units=units)
    columns = [
        Column("Day", 13, _DAY),
        Column("Crew", 20, WRAPPED),
        Column("Who", 20, WRAPPED),
        Column("House", 24, WRAPPED),
        Column("Work", 32, WRAPPED),
        Column("When", 24, WRAPPED),
        Column("Hours", 10, _HOURS),
        Column("People", 9, COUNT),
        Column("Person-hours", 13, _HOURS),
        Column("Done", 9, COUNT),
        Column("State", 20),
        Column("Why corrected", 36, WRAPPED),
    ]
    sheet = book.sheet("Hours", columns, freeze=3, landscape=True, foot=f"Hours, {author}")
    sheet.row(["Hours"], TITLE, height=24)
    sheet.row([told], NOTE, height=20)
    sheet.join(1, len(columns))
    sheet.headings()
    total = Decimal(0)
    for line in lines:
        worked = line.hours * line.people
        total += worked
        row = sheet.rows + 1
        sheet.row(
            [
                line.day,
                line.crew,
                line.who,
                line.house,
                line.work,
                line.clock,
                line.hours,
                line.people,
                Formula(f"G{row}*H{row}", worked),
                line.done,
                line.state,
                line.reason or None,
            ]
        )
    if sheet.rows > 3:
        looks, cells = [Look(total=True)] * 12, [None] * 12
        looks[8] = _TOTAL
        cells[0], cells[8] = "In all", Formula(f"SUM(I4:I{sheet.rows})", total)
        sheet.row(cells, looks)
    sheet.finish()
    return book.to_bytes()
