"""The sheets of a count as a workbook to fill in, and one row of it as understood when it comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from django.utils import timezone

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.speaking import kept_words
from farmbuild.stock.bridge import units_of
from farmbuild.stock.counts.selectors import WALK, lines_of
from farmbuild.stock.models import StockCount
from farmbuild.workbooks import writing
from farmbuild.workbooks.reading import CellError, Row, as_quantity, as_text
from farmbuild.workbooks.words import COUNT, LENGTH_TEXT, length_text

#: Accepted headings of each field; the first is the one that we write.
HEADINGS: dict[str, tuple[str, ...]] = {
    "lot": ("Lot", "Reference"),
    "counted": ("Counted", "Pieces counted"),
}
REQUIRED = frozenset(HEADINGS)
#: Columns for whoever counts, which are not read.
OTHERS = ("Place", "Material", "Length of one", "Stock record")
#: Of one sheet: all of them are entered by one transaction, which others wait for.
MAX_ROWS, MAX_BYTES = 10_000, 10 * 1024 * 1024
_MAX_SUGGESTIONS = 200


def count_workbook(*, count: StockCount) -> bytes:
    """One row a lot, by place in the order of the walk; the column Counted is empty, whatever was entered."""
    organisation = count.organisation
    units = units_of(organisation)
    called = kept_words(count)
    book = writing.Book(title=called, author=organisation.name, stamp=timezone.localdate(count.started_at), units=units)
    columns = [
        writing.Column("Place", 22),
        writing.Column("Lot", 16, writing.TEXT),
        writing.Column("Material", 34, writing.WRAPPED),
        writing.Column("Length of one", 16, LENGTH_TEXT),
        *([] if count.blind else [writing.Column("Stock record", 10, COUNT)]),
        writing.Column(HEADINGS["counted"][0], 12, COUNT),
    ]
    sheet = book.sheet(called, columns, freeze=3, foot=f"{called}, {organisation.name}")
    sheet.row([called], [writing.TITLE] + [writing.LABEL] * (len(columns) - 1))
    sheet.row(
        ["Type how many pieces there are under Counted, 0 for none; leave it empty where nobody counted."],
        writing.LABEL,
    )
    sheet.headings()
    for line in lines_of(count=count).order_by("place__site__name", "place__name", *WALK).iterator(2000):
        lot = line.lot
        material = f"{lot.material} (offcut)" if lot.offcut else str(lot.material)
        books = [] if count.blind else [lot.on_hand]
        sheet.row([str(line.place), lot.reference, material, length_text(lot.length, units), *books, None])
    if sheet.rows > 3:
        text = "How many pieces there are, a whole number; 0 for none. Empty: not counted."
        sheet.prompt(len(columns), 4, sheet.rows, title="Counted", text=text)
    sheet.finish()
    return book.to_bytes()


@dataclass
class Known:
    """What a sheet can refer to: references of lots to their keys, and those that are not part of the count."""

    lots: Mapping[str, int]
    elsewhere: Mapping[str, str]
    count: str
    seen: dict[str, int] = field(default_factory=dict)
    suggested: int = 0


def read_row(row: Row, known: Known) -> dict[str, Any] | None:
    """``row``, ``lot``, ``counted``, ``key`` and ``problems``: heading to sentence. None where nobody counted."""
    counted = row["counted"]
    if counted.blank:
        return None
    problems: dict[str, str] = {}
    out: dict[str, Any] = {"row": row.number, "lot": row["lot"].text[:40], "counted": counted.shown[:40], "key": None}
    try:
        out["key"] = _lot(row, known)
    except CellError as error:
        problems["Lot"] = str(error)
    try:
        out["counted"] = as_quantity(counted, least=0, most=MAX_QUANTITY)
    except CellError as error:
        problems["Counted"] = str(error)
    return out | {"problems": problems}


def _lot(row: Row, known: Known) -> int:
    text = as_text(row["lot"], most=40)
    if not text:
        raise CellError("This cell is empty. Type the reference of the lot that was counted.")
    if place := known.elsewhere.get(text):
        raise CellError(f"Lot {text} lies at {place}, which is not part of {known.count}. Take this row out.")
    if text not in known.lots:
        raise CellError(f"There is no lot “{text}”.{_nearest(text, known)}")
    if text in known.seen:
        raise CellError(f"Row {known.seen[text]} has lot {text} too. Add the two up and take one row out.")
    known.seen[text] = row.number
    return known.lots[text]


def _nearest(text: str, known: Known) -> str:
    if known.suggested >= _MAX_SUGGESTIONS:
        return " Type it as it stands on the sheet."
    known.suggested += 1
    close = get_close_matches(text, known.lots, n=3, cutoff=0.6)
    return f" Did you mean {' or '.join(close)}?" if close else " Type it as it stands on the sheet."
