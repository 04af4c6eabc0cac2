"""What is handed out to whom, with a line to sign on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.words import COUNT
from farmbuild.workbooks.writing import NOTE, TITLE, WRAPPED, Book, Column, Look

_SIGN = Look(line=True)
#: Of a row to sign in, in points.
_HEIGHT = 30


@dataclass(frozen=True)
class HandingLine:
    """Pieces of one thing for one member: ordered, to be had by what came, handed out already."""

    member: str
    thing: str
    ordered: int
    due: int
    handed: int

    @property
    def left(self) -> int:
        return max(0, self.due - self.handed)


def handing_workbook(
    *, lines: Iterable[HandingLine], day: date, title: str, told: str, author: str, units: UnitSystem
) -> bytes:
    """The bytes of an .xlsx file with one sheet."""
    book = Book(title=title, author=author, stamp=day, units=units)
    columns = [
        Column("Member", 24, WRAPPED),
        Column("What", 34, WRAPPED),
        Column("Ordered", 10, COUNT),
        Column("Gets", 10, COUNT),
        Column("Handed out", 11, COUNT),
        Column("To hand out", 11, COUNT),
        Column("Day", 12, _SIGN),
        Column("Signed", 30, _SIGN),
    ]
    sheet = book.sheet("Handing out", columns, freeze=3, freeze_columns=1, landscape=True, foot=f"{title}, {author}")
    sheet.row([title], TITLE, height=24)
    sheet.row([told], NOTE, height=20)
    sheet.join(1, len(columns))
    sheet.headings()
    for line in lines:
        cells = [line.member, line.thing, line.ordered, line.due, line.handed, line.left, None, None]
        sheet.row(cells, height=_HEIGHT)
    sheet.finish()
    return book.to_bytes()
