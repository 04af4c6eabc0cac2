"""Stock from a file: understood and shown first, stored only when the whole file is right, all of it or nothing.

Between the preview and the confirmation the rows wait in an ImportDraft of the person who sent them. It can be seen
by nobody else, is used up by the confirmation, and goes when the person sends another file or a day later. A long
file is read, and put into stock, by a worker (``import_work.py``), with the same rows and the same words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from functools import partial
from itertools import chain
from typing import Any

from django.db import transaction
from django.utils import timezone

from farmbuild.catalogue.selectors import materials_of, suppliers_of
from farmbuild.common.long_work import State
from farmbuild.measure import format_count
from farmbuild.measure.usual import longer_than_any
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site
from farmbuild.stock import import_questions
from farmbuild.stock.bridge import length_unit, units_of
from farmbuild.stock.import_lots import MAX_NEW_PLACES, ImportStale, Preparing, become_lots
from farmbuild.stock.import_rows import HEADINGS, MAX_ROWS, REQUIRED, Known, KnownMaterial, read_row
from farmbuild.stock.models import ImportDraft, ImportLot, ImportPart, Lot
from farmbuild.stock.selectors import members_of, places_of
from farmbuild.stock.services import lock_references
from farmbuild.workbooks.packages import ZIP_MAGICS, unpacked_bytes
from farmbuild.workbooks.reading import WorkbookError, read_table

#: So many are put into stock while the page waits.
MAX_ROWS_AT_ONCE = 10_000
#: Rows on one page of the preview.
PART = 100
#: Parts that are stored, or whose rows are, in one go: 2,000 rows, for which others wait about half a second (seen).
PARTS_AT_ONCE = 20
#: Read while the page waits, in a second or so (seen): 4,000 rows. A row is about seven times as long in a workbook.
_SHORT_TEXT, _SHORT_WORKBOOK = 300_000, 2_000_000
KEEP = timedelta(days=1)
GONE = "This file was put into stock already, another one was sent, or the currency was changed."


def known_of(*, organisation: Organisation, today: date) -> Known:
    """What a file can refer to, in six queries."""
    materials: dict[str, KnownMaterial] = {}
    units = units_of(organisation)
    for material in materials_of(organisation=organisation):
        too_long = partial(longer_than_any, material.kind, units)
        known = KnownMaterial(material.code, material.name, material.by_length, too_long)
        materials.setdefault(material.name.casefold(), known)
        materials[material.code.casefold()] = known
    suppliers: dict[str, str] = {}
    for code, name in suppliers_of(organisation=organisation).values_list("code", "name"):
        suppliers.setdefault(name.casefold(), code)
        suppliers[code.casefold()] = code
    places = places_of(organisation=organisation).values_list("name", "site__name")
    sites = Site.objects.of(organisation).filter(archived_at=None).values_list("name", flat=True)
    return Known(
        unit=length_unit(organisation),
        today=today,
        currency=organisation.currency,
        materials=materials,
        suppliers=suppliers,
        places={name.casefold(): (name, site or "") for name, site in places},
        sites={name.casefold(): name for name in sites},
        references=set(Lot.objects.of(organisation).values_list("reference", flat=True)),
        owners={name.casefold(): name for name in members_of(organisation=organisation).values_list("name", flat=True)},
    )


def is_long(data: bytes) -> bool:
    """Whether a worker is to read the file, so that no page waits for it."""
    return unpacked_bytes(data) > (_SHORT_WORKBOOK if data.startswith(ZIP_MAGICS) else _SHORT_TEXT)


@needs(Act.STOCK)
def make_draft(*, organisation: Organisation, user: User, data: bytes, filename: str, today: date) -> ImportDraft:
    """Read a file and keep its rows as understood. Raises WorkbookError when it is no table of lots at all."""
    rows = understood(organisation=organisation, data=data, filename=filename, today=today)
    with transaction.atomic():
        draft = _new_draft(organisation, user, filename, today)
        parts = parts_of(draft, rows)
        draft.state = State.READY
        draft.save()
        ImportPart.objects.bulk_create(parts, batch_size=200)
    return draft


@needs(Act.STOCK)
@transaction.atomic
def keep_file(*, organisation: Organisation, user: User, data: bytes, filename: str, today: date) -> ImportDraft:
    """Keep a long file for a worker, who reads it. Raises WorkbookError where another one is under way."""
    draft = _new_draft(organisation, user, filename, today)
    draft.file = data
    draft.save()
    return draft


def understood(
    *,
    organisation: Organisation,
    data: bytes,
    filename: str,
    today: date,
    progress: Callable[[int, int], None] = lambda done, rows: None,
) -> list[dict[str, Any]]:
    """Each row as ``read_row`` gives it; ``progress`` is told how many of how many. Raises WorkbookError."""
    table = read_table(data, filename, headings=HEADINGS, required=REQUIRED, max_rows=MAX_ROWS)
    if not table.rows:
        where = f"The sheet “{table.sheet}” of {filename}" if table.sheet else filename
        raise WorkbookError(f"{where} has headings but no rows under them. Type one row for each lot.")
    known = known_of(organisation=organisation, today=today)
    known.use_heading(table.heads.get("length", ""))
    rows: list[dict[str, Any]] = []
    for row in table.rows:
        if len(rows) % (PART * PARTS_AT_ONCE) == 0:
            progress(len(rows), len(table.rows))
        rows.append(read_row(row, known))
    if len(known.new_places) > MAX_NEW_PLACES:
        raise WorkbookError(
            f"{filename} names {format_count(len(known.new_places))} places that are not there yet;"
            f" {format_count(MAX_NEW_PLACES)} at once is the most. Look whether the right column is headed Place."
        )
    import_questions.ask(rows, organisation=organisation)
    return rows


def asked_of(draft: ImportDraft) -> int:
    """Of how many rows it is asked whether they are right; they are not stored before they can be read."""
    last = None if draft.bad_rows else draft.parts.filter(bad=True).last()
    return (last.number - 1) * PART + len(last.rows) if last else 0


def _new_draft(organisation: Organisation, user: User, filename: str, today: date) -> ImportDraft:
    """In the place of the one before. Raises WorkbookError while that one is put into stock."""
    for before in ImportDraft.objects.defer("file").select_for_update().filter(user=user):
        if before.confirmed_at and before.is_under_way:
            raise WorkbookError(
                f"{before.filename} is being put into stock. Wait until it is there, or stop it; then send this one."
            )
        before.delete()
    old = ImportDraft.objects.filter(made_at__lt=timezone.now() - KEEP)
    old.exclude(state__in=[State.WAITING, State.WORKING]).delete()
    draft = ImportDraft(organisation=organisation, user=user, filename=filename[-200:], day=today)
    draft.full_clean()
    return draft


def parts_of(draft: ImportDraft, rows: list[dict[str, Any]]) -> list[ImportPart]:
    """Every row, and once more those to look at first; the draft is told how many there are."""
    bad = [row for row in rows if row["problems"]]
    draft.rows, draft.bad_rows = len(rows), len(bad)
    first = bad or [row for row in rows if row["questions"]]
    return [*_parts(draft, rows, bad=False), *_parts(draft, first, bad=True)]


def _parts(draft: ImportDraft, rows: list[dict[str, Any]], *, bad: bool) -> Iterator[ImportPart]:
    for number, start in enumerate(range(0, len(rows), PART), 1):
        yield ImportPart(draft=draft, bad=bad, number=number, rows=rows[start : start + PART])


def batches_of(draft: ImportDraft, *, after: int = 0) -> Iterator[tuple[int, list[dict[str, Any]]]]:
    """Rows of PARTS_AT_ONCE parts, from the one behind ``after`` on, with the number of their last part."""
    parts = draft.parts.filter(bad=False)
    # Each asked for anew: where one reading goes on, SQLite lets this connection write no more once others have.
    while some := list(parts.filter(number__gt=after)[:PARTS_AT_ONCE]):
        after = some[-1].number
        yield after, list(chain.from_iterable(part.rows for part in some))


@needs(Act.STOCK)
@transaction.atomic
def store_draft(*, organisation: Organisation, user: User, draft: ImportDraft) -> int:
    """Put every row of the draft into stock and use the draft up; gives how many lots.

    Raises ImportStale, and stores nothing, when a row is wrong, or has become wrong since the preview.
    """
    # Held first: of two confirmations at once the second finds the draft gone.
    lock_references(organisation=organisation)
    current = _to_confirm(organisation, user, draft)
    preparing = Preparing(current)
    for _, rows in batches_of(current):
        preparing.write(rows)
    count = become_lots(organisation=organisation, user=user, draft=current)
    current.delete()
    return count


@needs(Act.STOCK)
@transaction.atomic
def confirm_draft(*, organisation: Organisation, user: User, draft: ImportDraft) -> None:
    """A worker is to put every row of the draft into stock. Raises ImportStale when a row is wrong."""
    current = _to_confirm(organisation, user, draft)
    current.state, current.confirmed_at = State.WAITING, timezone.now()
    current.save(update_fields=["state", "confirmed_at"])


def _to_confirm(organisation: Organisation, user: User, draft: ImportDraft) -> ImportDraft:
    drafts = ImportDraft.objects.of(organisation).select_related("organisation").select_for_update(of=("self",))
    current = drafts.filter(pk=draft.pk, user=user).first()
    if current is None or current.stored_at:
        raise ImportStale(GONE)
    if not current.is_read:
        raise ImportStale(f"{current.filename} is not ready to be put into stock.")
    if current.bad_rows:
        raise ImportStale("Some rows are not right yet, so nothing was stored. Correct the file and send it again.")
    return current


@needs(Act.STOCK)
@transaction.atomic
def stop_draft(*, organisation: Organisation, user: User, draft: ImportDraft) -> bool:
    """Stop what a worker does with it: a file that is being read goes, one that is put into stock has its rows on the
    preview again. False where there was nothing to stop any more; a file that is in stock stays there."""
    drafts = ImportDraft.objects.of(organisation).defer("file").select_for_update()
    current = drafts.filter(pk=draft.pk, user=user).first()
    if current is None or current.stored_at or current.is_read:
        return False
    if current.confirmed_at is None:
        current.delete()
        return True
    ImportLot.objects.filter(draft=current).delete()
    current.state, current.confirmed_at, current.prepared, current.begun = State.READY, None, 0, 0
    current.worker = current.step_note = current.problem = ""
    current.save(update_fields=["state", "confirmed_at", "prepared", "worker", "step_note", "begun", "problem"])
    return True
