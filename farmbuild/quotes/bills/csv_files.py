"""Bills and costs as plain text for whoever keeps the books. No books are kept here."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from farmbuild.measure import current_style, typed_as
from farmbuild.quotes.models import Bill
from farmbuild.workbooks.writing import RISKY

BILL_HEADINGS = (
    *("Bill", "Day", "To be paid by", "Customer", "Job", "What", "Currency"),
    *("Before tax", "Kept back", "Tax", "To be paid", "Takes back", "Why"),
)


def bills_csv(bills: Iterable[Bill]) -> bytes:
    return csv_text(
        BILL_HEADINGS,
        (
            [
                *(bill.reference, bill.day, bill.due_on, bill.job.customer.name, bill.job.reference, bill.what),
                *(bill.currency, bill.billed, bill.kept, bill.tax, bill.due),
                *(bill.reverses.reference if bill.reverses else "", bill.reason),
            ]
            for bill in bills
        ),
    )


def csv_text(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    """Parted as spreadsheets do where that is the decimal sign, marked as UTF-8; no cell of it becomes a formula.

    Amounts are ``Decimal`` and days dates (2027-05-12); all else is text.
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if current_style().decimal == "," else ",")
    writer.writerow(headings)
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode("utf-8-sig")


def _cell(value: Any) -> str:
    if isinstance(value, Decimal):
        return typed_as(value)
    text = str(value)
    return f"'{text}" if text.startswith(RISKY) else text
