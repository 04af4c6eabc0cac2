"""What jobs cost, a row a thing and day, as plain text for whoever keeps the books."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from farmbuild.crew.models import Kind as Step
from farmbuild.measure import round_money
from farmbuild.quotes.against.selectors import houses_of
from farmbuild.quotes.against.used import MaterialUsed, TimeUsed, used_of
from farmbuild.quotes.models import Job
from farmbuild.workbooks.plain_text import csv_bytes

HEADINGS = ("Day", "Customer", "Job", "House", "Kind", "What", "Quantity", "Currency", "Amount")


def costs_csv(jobs: Iterable[Job], *, first: date | None = None, last: date | None = None) -> bytes:
    """Without overhead, which nobody is paid. Of a period, both days with it."""
    return csv_bytes([HEADINGS, *(row for job in jobs for row in _rows(job) if _within(row[0], first, last))])


def _within(day: date, first: date | None, last: date | None) -> bool:
    return (first is None or first <= day) and (last is None or day <= last)


def _rows(job: Job) -> Iterator[list[Any]]:
    houses = {house.pk: house.name for house in houses_of(job=job)}
    used = used_of(organisation=job.organisation, job=job, houses=list(houses))
    for row in sorted(used.rows, key=lambda row: row.day):
        kind, what, quantity = _said(row)
        currency = job.organisation.currency
        yield [
            *(row.day, job.customer.name, job.reference, houses.get(row.house, ""), kind, what),
            *(round(quantity, 3), currency, round_money(row.amount, currency)),
        ]


def _said(row: Any) -> tuple[str, str, Any]:
    if isinstance(row, MaterialUsed):
        return "Materials", row.name, row.quantity
    if isinstance(row, TimeUsed):
        return "Time", Step(row.step).label if row.step else "Other work", row.hours
    return "Trips" if row.trip else "Equipment", row.name, row.times
