"""Sheets whose headings nobody knows beforehand: every cell as it stands, in a form that JSON can hold.

What was sent is kept between two pages as this, so that the second page reads what the first one got and nothing else.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from farmbuild.measure import format_count
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.reading import EMPTY, SHEET_ROWS, Book, Cell, sheet_cell

#: A stored cell: text as it is; else kind and value. ``sign``: of the currency in which a spreadsheet shows a number.
Stored = str | dict[str, Any]
_SIGN = re.compile(r"\[\$([^-\]]+)|\"?(?<!\[)([€£¥$]|\b[A-Z]{3}\b)\"?")


@dataclass(frozen=True)
class Sheet:
    """``rows``: number as the spreadsheet counts it, and its cells. Empty rows are left out."""

    name: str
    rows: list[tuple[int, list[Stored]]]


def read_sheets(data: bytes, filename: str, *, decimal: str, most_rows: int, most_columns: int) -> list[Sheet]:
    """Sheets that are shown and hold something. Raises WorkbookError; ``most_rows`` of all of them together."""
    book = Book(data, filename)
    if book.text:
        found = [Sheet("", list(_text_rows(book.text, filename, decimal)))]
    else:
        found = [Sheet(title, list(_rows(book.sheet(title)))) for title in book.shown]
    found = [sheet for sheet in found if sheet.rows]
    if not found:
        raise WorkbookError(f"{filename} has no sheet that is shown and has rows in it.")
    if sum(len(sheet.rows) for sheet in found) > most_rows:
        raise WorkbookError(f"{filename} has more than {format_count(most_rows)} rows. Send only those that you buy.")
    wide = max(len(cells) for sheet in found for _, cells in sheet.rows)
    if wide > most_columns:
        raise WorkbookError(f"{filename} has {wide} columns; {most_columns} is the most. Leave some out.")
    return found


def _rows(sheet: Any) -> Iterator[tuple[int, list[Stored]]]:
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(max_row=SHEET_ROWS), 1):
        cells = [EMPTY if read.value is None else sheet_cell(read) for read in row[:256]]
        kept = [store(cell, getattr(read, "number_format", "") or "") for cell, read in zip(cells, row, strict=False)]
        if kept := _trimmed(kept):
            yield number, kept


def _trimmed(cells: list[Stored]) -> list[Stored]:
    """Without empty ones at the end."""
    end = max((at for at, cell in enumerate(cells, 1) if cell != ""), default=0)
    return cells[:end]


def _text_rows(text: str, filename: str, decimal: str) -> Iterator[tuple[int, list[Stored]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parted_by(text, decimal), strict=True)
    before = 0
    try:
        for row in reader:
            if kept := _trimmed([store(_text_cell(cell)) for cell in row]):
                yield before + 1, kept
            before = reader.line_num
    except csv.Error as error:
        raise WorkbookError(
            f"{filename} cannot be read from line {before + 1} on ({error}). Look for a quotation mark too many there."
        ) from error


def _text_cell(text: str) -> Cell:
    text = text.strip()
    return Cell(text, formula=len(text) > 1 and text.startswith("=")) if text else EMPTY


def parted_by(text: str, decimal: str) -> str:
    """Tab, semicolon or comma: the one that makes most lines equally long. A decimal comma parts no cells."""
    lines = [line for line in text.splitlines()[:60] if line.strip()]
    order = "\t;" if decimal == "," else "\t;,"

    def even(sign: str) -> int:
        widths = Counter(len(row) for row in csv.reader(lines, delimiter=sign))
        return max((count for width, count in widths.items() if width > 1), default=0)

    best = max(order, key=even)
    # With a decimal comma a file parted by commas is one all the same where nothing else parts it.
    return "," if decimal == "," and not even(best) and even(",") else best


def store(cell: Cell, number_format: str = "") -> Stored:
    value = cell.value
    if cell.formula:
        return {"f": cell.text}
    if cell.error:
        return {"e": cell.text}
    if isinstance(value, bool):
        return {"b": value}
    if isinstance(value, (int, float)):
        kept: dict[str, Any] = {"n": value if isinstance(value, int) else repr(value)}
        found = _SIGN.search(number_format)
        return kept | ({"s": found[1] or found[2]} if found else {})
    if isinstance(value, datetime):
        return {"d": value.isoformat()}
    if isinstance(value, date):
        return {"d": value.isoformat()}
    return cell.text


def restore(kept: Stored) -> Cell:
    if isinstance(kept, str):
        return Cell(kept) if kept else EMPTY
    if "f" in kept:
        return Cell(kept["f"], formula=True)
    if "e" in kept:
        return Cell(kept["e"], error=True)
    if "b" in kept:
        return Cell(kept["b"])
    if "d" in kept:
        return Cell(datetime.fromisoformat(kept["d"]))
    number = kept["n"]
    return Cell(number if isinstance(number, int) else float(number))


def sign_of(kept: Stored) -> str:
    """Of the currency in which the spreadsheet shows the number; "" for none."""
    return kept.get("s", "") if isinstance(kept, dict) else ""


def widest(rows: Iterable[tuple[int, list[Stored]]]) -> int:
    return max((len(cells) for _, cells in rows), default=0)
