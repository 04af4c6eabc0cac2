"""Rows as a text file (CSV, RFC 4180), as every room gives it out."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from farmbuild.measure import current_style, typed_as
from farmbuild.workbooks.writing import RISKY

Cell = str | int | bool | Decimal | date | None


def csv_bytes(rows: Iterable[Sequence[Cell]]) -> bytes:
    """Parted as spreadsheets do where that is the decimal sign, marked as UTF-8; no cell of it becomes a formula.

    Numbers by the decimal sign in force, days as 2027-05-12.
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if current_style().decimal == "," else ",")
    writer.writerows([cell_text(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def cell_text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, Decimal):
        return typed_as(cell)
    if isinstance(cell, date):
        return cell.isoformat()
    text = str(cell)
    return f"'{text}" if isinstance(cell, str) and text.startswith(RISKY) else text
