"""Bills and costs as plain text for whoever keeps the books. No books are kept here."""

from __future__ import annotations

from collections.abc import Iterable

from farmbuild.measure import round_money
from farmbuild.quotes.models import Bill
from farmbuild.workbooks.plain_text import csv_bytes

BILL_HEADINGS = (
    *("Bill", "Day", "To be paid by", "Customer", "Job", "What", "Currency"),
    *("Before tax", "Kept back", "Tax", "To be paid", "Takes back", "Why"),
)


def bills_csv(bills: Iterable[Bill]) -> bytes:
    return csv_bytes(
        [
            BILL_HEADINGS,
            *(
                [
                    *(bill.reference, bill.day, bill.due_on, bill.job.customer.name, bill.job.reference, bill.what),
                    bill.currency,
                    # With as many places as its coins have.
                    *(round_money(amount, bill.currency) for amount in (bill.billed, bill.kept, bill.tax, bill.due)),
                    *(bill.reverses.reference if bill.reverses else "", bill.reason),
                ]
                for bill in bills
            ),
        ]
    )
