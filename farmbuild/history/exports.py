"""The history as a file: a row a change, as a workbook and as plain text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from farmbuild.common.templatetags.farm import moment
from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of, record_words
from farmbuild.history.selectors import narrowed
from farmbuild.measure import UnitSystem
from farmbuild.workbooks import writing
from farmbuild.workbooks.plain_text import csv_bytes

#: Entries of one file, the newest; older ones are had by day.
MOST = 10_000
HEADINGS = ("When", "Who", "Did", "Record", "What", "From", "To")
_WIDTHS = (22, 22, 20, 34, 34, 28, 28)
Row = tuple[str, ...]


def newest(*, organisation: Any, **asked: Any) -> QuerySet[Entry]:
    """Every entry that fits, not one an act."""
    return narrowed(organisation=organisation, **asked, every=True)[:MOST]


def rows_of(entries: Iterable[Entry], organisation: Any, *, costs: bool) -> Iterator[Row]:
    """A row a change; one for an entry that has none to show."""
    for entry in entries:
        head = (moment(timezone.localtime(entry.at)), entry.who, entry.deed, record_words(entry))
        changes = changes_of(entry, organisation, costs=costs)
        for change in changes:
            yield (*head, change.label, change.before, change.after)
        if not changes:
            yield (*head, "", "", "")


def xlsx(entries: Iterable[Entry], organisation: Any, *, costs: bool, today: date) -> bytes:
    units = UnitSystem(organisation.unit_system)
    book = writing.Book(title="What changed", author=organisation.name, stamp=today, units=units)
    columns = [
        writing.Column(heading, width, writing.WRAPPED) for heading, width in zip(HEADINGS, _WIDTHS, strict=True)
    ]
    sheet = book.sheet("What changed", columns, freeze=1, landscape=True, foot=f"What changed, {organisation.name}")
    sheet.headings()
    for row in rows_of(entries, organisation, costs=costs):
        sheet.row([cell or None for cell in row])
    sheet.finish()
    return book.to_bytes()


def csv_text(entries: Iterable[Entry], organisation: Any, *, costs: bool) -> bytes:
    return csv_bytes([HEADINGS, *rows_of(entries, organisation, costs=costs)])
