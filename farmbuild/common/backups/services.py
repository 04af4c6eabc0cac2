"""A backup made, looked through, and brought back."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from farmbuild.common.backups import archive, postgresql, sqlite
from farmbuild.common.backups.contents import differences


def make(to: Path) -> dict[str, Any]:
    """Write the backup and read it back; the manifest. Raises CommandError, and nothing is at ``to`` then."""
    if to.exists():
        raise CommandError(f"There is a file {to} already. Give another name.")
    with tempfile.TemporaryDirectory(dir=to.parent, prefix=".backup-") as folder:
        copied = Path(folder) / "copied"
        kind = connection.vendor
        held = sqlite.copy(_sqlite_file(), copied) if kind == "sqlite" else postgresql.copy(copied)
        manifest = {
            "kind": kind,
            "made": f"{timezone.now():%Y-%m-%d %H:%M:%S} UTC",
            "migrations": _applied(),
            **held,
        }
        archive.write(to, copied, manifest)
        try:
            _read_back(to, manifest, Path(folder) / "read")
        except CommandError:
            to.unlink()
            raise
    return manifest


def restore(file: Path) -> dict[str, Any]:
    """Bring a backup back where nothing is yet, and compare every row; the manifest. Raises CommandError."""
    manifest = archive.manifest_of(file)
    kind = manifest["kind"]
    if kind != connection.vendor:
        raise CommandError(
            f"This backup is of {_SAID[kind]}, and the database here is {_SAID[connection.vendor]}."
            " Set DATABASE_URL to one of the same kind."
        )
    known = MigrationLoader(None).disk_migrations
    if newer := [name for app, name in manifest["migrations"] if (app, name) not in known]:
        raise CommandError(f"This backup was made by a newer farmbuild ({newer[0]}). Install that version first.")
    if kind == "postgresql":
        postgresql.check_empty()
        with tempfile.TemporaryDirectory(prefix="restore-") as folder:
            dump = Path(folder) / "dump"
            archive.unpack(file, kind, dump)
            postgresql.put(dump)
        _same(manifest, postgresql.contents())
        return manifest
    database = _sqlite_file()
    database.parent.mkdir(parents=True, exist_ok=True)
    sqlite.check_empty(database)
    with tempfile.TemporaryDirectory(dir=database.parent, prefix=".restore-") as folder:
        copied = Path(folder) / "copied"
        archive.unpack(file, kind, copied)
        _same(manifest, sqlite.contents(copied))
        connection.close()
        sqlite.put(copied, database)
    return manifest


_SAID = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


def _sqlite_file() -> Path:
    return Path(connection.settings_dict["NAME"])


def _applied() -> list[tuple[str, str]]:
    return sorted(MigrationRecorder(connection).applied_migrations())


def _read_back(file: Path, manifest: dict[str, Any], to: Path) -> None:
    """A copy that cannot be read is none. Of PostgreSQL the bytes alone: it takes a database to look into a dump."""
    archive.unpack(file, manifest["kind"], to)
    if manifest["kind"] == "sqlite":
        _same(manifest, sqlite.contents(to))


def _same(manifest: dict[str, Any], found: dict[str, Any]) -> None:
    if told := differences(manifest, found):
        raise CommandError(f"What came out is not what was copied: {'; '.join(told[:5])}. Take another backup.")
