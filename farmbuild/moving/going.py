"""An organisation goes out: all that it owns into one file, as of one moment, while others work on."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management.base import CommandError
from django.db import connection, transaction
from django.db.models import Model
from django.utils import timezone

from farmbuild.common.backups.contents import FIELD, part_of_sum
from farmbuild.common.schema_version import known, why_not_to_serve
from farmbuild.moving.archive import FORM, MANIFEST, PEOPLE, VERSION, rows_name
from farmbuild.moving.figures import figures_of
from farmbuild.moving.ownership import LEFT_OUT, OF_THE_SERVER, USER, owned_models
from farmbuild.moving.sheets import SHEETS, write_sheet
from farmbuild.moving.telling import told_rows
from farmbuild.moving.values import line_of
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation, User

_PIECE = 1 << 20
#: Told what is being written, and how far that is: how many tables are done, of how many.
Progress = Callable[[int, int, str], None]


class Seen:
    """The keys that were met, by table: the lowest and the highest."""

    def __init__(self) -> None:
        self.first: dict[str, int] = {}
        self.last: dict[str, int] = {}
        self.people: set[int] = set()

    def __call__(self, label: str, key: int) -> int:
        self.first[label] = min(key, self.first.get(label, key))
        self.last[label] = max(key, self.last.get(label, key))
        if label == USER:
            self.people.add(key)
        return key


def write_export(*, organisation: Organisation, to: Path, progress: Progress = lambda *_: None) -> dict[str, Any]:
    """Whole or not at all; the manifest. Raises CommandError where there is such a file, or the database is of another
    version. Memory holds one row, or one file, at a time."""
    if to.exists():
        raise CommandError(f"There is a file {to} already. Give another name.")
    if why := why_not_to_serve():
        raise CommandError(why)
    half = to.with_name(f".{to.name}.{os.getpid()}")
    try:
        half.touch(mode=0o600)
        with (
            _one_moment(),
            zone_in_force(organisation),
            tempfile.TemporaryDirectory(dir=to.parent, prefix=".export-") as folder,
            zipfile.ZipFile(half, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            manifest = _write(organisation, archive, Path(folder), progress)
        with half.open("rb+") as whole:
            os.fsync(whole.fileno())
        half.replace(to)
    finally:
        half.unlink(missing_ok=True)
    return manifest


@contextmanager
def _one_moment() -> Iterator[None]:
    """What others store meanwhile is not seen, and nobody waits for the end of it."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "postgresql":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    else:
        # Usual transactions take the one lock of SQLite for writing at their beginning.
        connection.ensure_connection()
        usual, connection.transaction_mode = connection.transaction_mode, "DEFERRED"
        try:
            with transaction.atomic():
                yield
        finally:
            connection.transaction_mode = usual


def _write(organisation: Organisation, archive: zipfile.ZipFile, folder: Path, progress: Progress) -> dict[str, Any]:
    seen, parts, tables, files = Seen(), {}, {}, [0, 0]

    def filed(path: str, data: bytes) -> None:
        # Photos and PDF are packed already.
        archive.writestr(path, data, compress_type=zipfile.ZIP_STORED if path.endswith(("jpg", "png")) else None)
        files[0], files[1] = files[0] + 1, files[1] + len(data)

    def put(name: str, lines: Iterator[str]) -> None:
        path = folder / "part"
        added = hashlib.sha256()
        with path.open("wb") as out:
            for line in lines:
                data = f"{line}\n".encode()
                added.update(data)
                out.write(data)
        archive.write(path, name)
        parts[name] = [path.stat().st_size, added.hexdigest()]

    models = owned_models()
    for done, model in enumerate(models):
        label = model._meta.label
        progress(done, len(models), str(model._meta.verbose_name_plural).capitalize())
        counted = Counted(told_rows(model, organisation.pk, seen, filed))
        put(rows_name(label), iter(counted))
        tables[label] = [counted.rows, counted.sum]
    put(PEOPLE, map(line_of, people(seen.people)))
    for sheet in SHEETS:
        path = folder / "sheet"
        with path.open("wb") as raw, TextIOWrapper(raw, "utf-8-sig", newline="") as out:
            write_sheet(sheet, organisation.pk, out)
        name = f"sheets/{sheet.name}.csv"
        archive.write(path, name)
        parts[name] = [path.stat().st_size, _digest(path)]
    manifest = {
        "form": FORM,
        "version": VERSION,
        "made": f"{timezone.now():%Y-%m-%d %H:%M:%S} UTC",
        "database": connection.vendor,
        "migrations": sorted(map(list, known())),
        "organisation": {
            "identity": str(organisation.identity),
            "key": organisation.pk,
            "name": organisation.name,
            "address": organisation.slug,
        },
        "tables": tables,
        "keys": {label: [seen.first[label], seen.last[label]] for label in sorted(seen.first) if label != USER},
        "files": files,
        "figures": figures_of(organisation.pk),
        "parts": parts,
        "left out": {**left_out(organisation), **OF_THE_SERVER},
    }
    archive.writestr(MANIFEST, json.dumps(manifest, indent=1, ensure_ascii=False))
    return manifest


class Counted:
    """Lines of rows, counted and added up as they pass."""

    def __init__(self, rows: Iterator[dict[str, Any]]) -> None:
        self._rows = rows
        self.rows, self._added = 0, 0

    def __iter__(self) -> Iterator[str]:
        for row in self._rows:
            line = line_of(row)
            self.rows += 1
            self._added += part_of_sum(line)
            yield line

    @property
    def sum(self) -> str:
        return f"{self._added % FIELD:032x}"


def people(keys: set[int]) -> Iterator[dict[str, Any]]:
    """Whoever is named in a row, without what lets them in."""
    rows = User.objects.filter(pk__in=keys).order_by("pk")
    for row in rows.iterator(chunk_size=500):
        yield {
            "id": row.pk,
            "username": row.username,
            "first_name": row.first_name,
            "last_name": row.last_name,
            "email": row.email,
            "language": row.language,
            "units": row.units,
            "large_letters": row.large_letters,
            "visitor": row.visitor,
            "is_active": row.is_active,
            "date_joined": row.date_joined.isoformat(),
        }


def left_out(organisation: Organisation) -> dict[str, str]:
    """Why each table that stays stays, and how many of its rows are the organisation's where that can be told."""
    told = {}
    for label, why in LEFT_OUT.items():
        model: type[Model] = apps.get_model(label)
        names = {field.name for field in model._meta.concrete_fields}
        rows = model._base_manager.filter(organisation=organisation).count() if "organisation" in names else 0
        told[label] = f"{rows} rows: {why}" if rows else why
    return told


def _digest(path: Path) -> str:
    added = hashlib.sha256()
    with path.open("rb") as read:
        while piece := read.read(_PIECE):
            added.update(piece)
    return added.hexdigest()
