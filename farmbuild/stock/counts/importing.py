"""A filled-in sheet of a count: understood and shown first, entered when every row is right, all of it or nothing."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from farmbuild.common.speaking import kept_words
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.counts.services import Counted, record_counts
from farmbuild.stock.counts.workbooks import HEADINGS, MAX_ROWS, OTHERS, REQUIRED, Known, read_row
from farmbuild.stock.models import CountDraft, CountEntry, Lot, StockCount
from farmbuild.workbooks.reading import Book, WorkbookError, unread

KEEP = timedelta(days=1)
_NUMBER = re.compile(r"Count\s+(\d{1,9})\Z", re.IGNORECASE)

__all__ = ["WorkbookError", "make_draft", "store_draft"]


def known_of(*, count: StockCount) -> Known:
    """Lots of the organisation, in one query: those on a sheet or in a counted place, and the others."""
    places = set(count.places.values_list("place", flat=True))
    on_a_sheet = set(count.lines.values_list("lot", flat=True))
    mine: dict[str, int] = {}
    elsewhere: dict[str, str] = {}
    lots = Lot.objects.of(count.organisation).filter(Q(on_hand__gt=0) | Q(pk__in=count.lines.values("lot")))
    for pk, reference, place, name in lots.order_by().values_list("pk", "reference", "place", "place__name"):
        if pk in on_a_sheet or place in places:
            mine[reference] = pk
        else:
            elsewhere[reference] = name
    return Known(lots=mine, elsewhere=elsewhere, count=kept_words(count).lower())


@needs(Act.STOCK)
def make_draft(
    *,
    organisation: Organisation,
    user: User,
    count: StockCount,
    data: bytes,
    filename: str,
    counted_at: datetime | None = None,
) -> CountDraft:
    """Read a sheet and keep its rows as understood. Raises WorkbookError when it is no sheet of this count."""
    book = Book(data, filename)
    table = book.table(headings=HEADINGS, required=REQUIRED, max_rows=MAX_ROWS, rules=unread(*OTHERS))
    for cells in book.above(table):
        for cell in cells:
            if (match := _NUMBER.match(cell.text)) and int(match[1]) != count.number:
                raise WorkbookError(
                    f"{filename} is the sheet of count {match[1]}. Send that of {kept_words(count).lower()}."
                )
    known = known_of(count=count)
    rows = [read for row in table.rows if (read := read_row(row, known))]
    if not rows:
        raise WorkbookError(f"Nothing is filled in under Counted in {filename}. Type how many pieces there are.")
    bad = [row for row in rows if row["problems"]]
    draft = CountDraft(
        organisation=organisation,
        count=count,
        user=user,
        filename=filename[-200:],
        counted_at=counted_at,
        # Rows that are not right come first.
        rows=[*bad, *(row for row in rows if not row["problems"])],
        bad_rows=len(bad),
    )
    with transaction.atomic():
        CountDraft.objects.filter(user=user).delete()
        CountDraft.objects.filter(made_at__lt=timezone.now() - KEEP).delete()
        draft.full_clean()
        draft.save()
    return draft


@needs(Act.STOCK)
@transaction.atomic
def store_draft(*, organisation: Organisation, user: User, draft: CountDraft) -> int:
    """Enter every row and use the draft up; gives how many lots. Raises ValidationError, and then enters nothing."""
    current = CountDraft.objects.of(organisation).select_for_update().filter(pk=draft.pk, user=user).first()
    if current is None:
        raise ValidationError("This sheet has been entered already, or another one was sent since.")
    if current.bad_rows:
        raise ValidationError(
            "Some rows are not right yet, so nothing was entered. Correct the sheet and send it again."
        )
    entered = record_counts(
        organisation=organisation,
        user=user,
        count=current.count,
        counted=[Counted(row["key"], row["counted"]) for row in current.rows],
        counted_at=current.counted_at,
        source=CountEntry.Source.FILE,
    )
    current.delete()
    return entered
