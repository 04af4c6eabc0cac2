"""A long file of lots as a worker does it: it is read, and put into stock once it is confirmed.

Between two batches others write. A worker that falls silent is relieved, and the next goes on behind the last batch;
whoever stops it, or changes the currency, takes the row out of the worker's hands.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from time import sleep

from django.db import OperationalError, transaction
from django.utils import timezone

from farmbuild.common.long_work import Claim, WorkStopped, run_claimed
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, NotAllowed, needs
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.import_lots import ImportStale, Preparing, become_lots
from farmbuild.stock.importing import PART, PARTS_AT_ONCE, batches_of, parts_of, understood
from farmbuild.stock.models import ImportDraft, ImportLot, ImportPart
from farmbuild.stock.services import lock_references
from farmbuild.workbooks.reading import WorkbookError

UNEXPECTED = (
    "Nothing was put into stock, because of a fault in the program, not in your file. Try again; if it stops again, "
    "tell whoever runs the server."
)
#: Seconds between tries.
PAUSES = (0.5, 2, 8)


def work_on_import(draft_id: int) -> None:
    """Do what is next with a file that waits. Does nothing where it is done, stopped or in another worker's hands."""
    run_claimed(ImportDraft, draft_id, _work, unexpected=UNEXPECTED)


def _work(claim: Claim) -> None:
    draft = ImportDraft.objects.select_related("organisation", "user").get(pk=claim.pk)
    with zone_in_force(draft.organisation):
        if draft.confirmed_at is None:
            _read(claim, draft)
        else:
            _store(claim, draft)


def _read(claim: Claim, draft: ImportDraft) -> None:
    claim.note(0, 0, "Opening the file")
    try:
        rows = understood(
            organisation=draft.organisation,
            data=bytes(draft.file or b""),
            filename=draft.filename,
            today=draft.day,
            progress=lambda done, of: claim.note(done, of, f"Read {_of(done, of)}"),
        )
    except WorkbookError as error:
        raise WorkStopped(str(error)) from error
    parts = parts_of(draft, rows)
    for start in range(0, len(parts), PARTS_AT_ONCE):
        with transaction.atomic():
            claim.hold()
            if not start:
                draft.parts.all().delete()
            ImportPart.objects.bulk_create(parts[start : start + PARTS_AT_ONCE])
    claim.finish(rows=draft.rows, bad_rows=draft.bad_rows, file=None)


def _store(claim: Claim, draft: ImportDraft) -> None:
    who = {"organisation": draft.organisation, "user": draft.user}
    try:
        preparing = Preparing(draft)
        for last, rows in batches_of(draft, after=draft.prepared):
            _patiently(partial(_prepare, **who, claim=claim, preparing=preparing, rows=rows, last=last))
            done = min(last * PART, draft.rows)
            claim.note(done, draft.rows, _of(done, draft.rows))
        _patiently(partial(_publish, **who, claim=claim, draft=draft))
    except (ImportStale, NotAllowed) as error:
        _clear(claim, draft)
        raise WorkStopped(str(error)) from error
    # In stock by now; these only took room.
    ImportLot.objects.filter(draft=draft).delete()
    draft.parts.all().delete()


def _patiently(step: Callable[[], None]) -> None:
    """What the database was too busy for, or gave up for another's sake, left nothing behind and is tried again."""
    for pause in PAUSES:
        try:
            return step()
        except OperationalError:
            sleep(pause)
    return step()


@needs(Act.STOCK)
@transaction.atomic
def _prepare(
    *, organisation: Organisation, user: User, claim: Claim, preparing: Preparing, rows: list, last: int
) -> None:
    # Locked before the draft, as whoever changes the currency does.
    lock_references(organisation=organisation)
    claim.hold(prepared=last)
    preparing.write(rows)


@needs(Act.STOCK)
@transaction.atomic
def _publish(*, organisation: Organisation, user: User, claim: Claim, draft: ImportDraft) -> None:
    lock_references(organisation=organisation)
    claim.finish(stored_at=timezone.now())
    become_lots(organisation=organisation, user=user, draft=draft)


@transaction.atomic
def _clear(claim: Claim, draft: ImportDraft) -> None:
    claim.hold(prepared=0)
    ImportLot.objects.filter(draft=draft).delete()


def _of(done: int, rows: int) -> str:
    return f"{format_count(done)} of {format_count(rows)} rows"
