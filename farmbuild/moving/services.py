"""Exports that an owner asks for on the page: written by a worker, kept for two days, and then gone."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from datetime import timedelta
from functools import partial
from pathlib import Path
from threading import Event, Thread

from django.core.management.base import CommandError
from django.db import connection, transaction
from django.utils import timezone

from farmbuild.common.long_work import Claim, State, TakenOver, WorkStopped, run_claimed
from farmbuild.moving.going import write_export
from farmbuild.moving.models import Export, ExportPart
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

LASTS = timedelta(days=2)
UNEXPECTED = (
    "The export could not be written because of a fault in the program. Try again; if it stops again, tell whoever"
    " runs the server."
)
_PIECE = 1 << 20
#: Seconds between two signs of life while a file is written.
_EVERY = 60


def newest(*, organisation: Organisation) -> Export | None:
    """The one that is written or can be downloaded now; one that stopped says why."""
    found = Export.objects.of(organisation).select_related("made_by").first()
    return None if found is None or (found.ends_at and found.ends_at <= timezone.now()) else found


@needs(Act.OWN)
@transaction.atomic
def ask_for_export(*, organisation: Organisation, user: User) -> Export:
    """One at a time: where one waits or is being written it is that, and one from before goes."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    drop_old()
    found = Export.objects.of(organisation).filter(state__in=(State.WAITING, State.WORKING)).first()
    if found is None:
        Export.objects.of(organisation).delete()
        found = Export.objects.create(organisation=organisation, made_by=user)
    return found


def drop_old() -> None:
    """Those whose time is over, of all organisations."""
    Export.objects.filter(ends_at__lte=timezone.now()).delete()


def pieces_of(*, export: Export) -> Iterator[bytes]:
    """The file, a megabyte at a time."""
    for number in range((export.size + _PIECE - 1) // _PIECE):
        yield bytes(ExportPart.objects.values_list("data", flat=True).get(export=export, number=number))


def work_on_export(export_id: int) -> None:
    """Does nothing where it is done, stopped, or in another worker's hands."""
    run_claimed(Export, export_id, _work, unexpected=UNEXPECTED)


def _work(claim: Claim) -> None:
    drop_old()
    export = Export.objects.select_related("organisation").get(pk=claim.pk)
    with tempfile.TemporaryDirectory(prefix="export-") as folder:
        file = Path(folder) / "export.zip"
        claim.note(0, 0, "Writing the file")
        try:
            with _alive(claim):
                write_export(organisation=export.organisation, to=file)
        except CommandError as error:
            raise WorkStopped(str(error)) from error
        with transaction.atomic():
            claim.hold()
            digest = _keep(export, file)
            now = timezone.now()
            claim.finish(ready_at=now, ends_at=now + LASTS, size=file.stat().st_size, sha256=digest)


def _keep(export: Export, file: Path) -> str:
    added = hashlib.sha256()
    export.parts.all().delete()
    with file.open("rb") as read:
        for number, piece in enumerate(iter(partial(read.read, _PIECE), b"")):
            added.update(piece)
            ExportPart.objects.create(export=export, number=number, data=piece)
    return added.hexdigest()


class _alive:
    """While a large file is written in one reading of the database, another connection says that somebody is at it."""

    def __init__(self, claim: Claim) -> None:
        self._claim, self._over = claim, Event()
        self._thread = Thread(target=self._say, name="export", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _say(self) -> None:
        while not self._over.wait(_EVERY):
            try:
                self._claim.note(0, 0, "Writing the file")
            except TakenOver:
                return
            finally:
                connection.close()
