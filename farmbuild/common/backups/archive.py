"""The file of a backup: a zip with the database in it, and what it held when it was copied."""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

MANIFEST = "manifest.json"
#: Name in the zip by kind of database.
DATABASE = {"sqlite": "database.sqlite3", "postgresql": "database.pgdump"}


def write(to: Path, database: Path, manifest: dict[str, Any]) -> None:
    """Whole or not at all; for its owner alone, since all that people entered is in it."""
    half = to.with_name(f".{to.name}.{os.getpid()}")
    try:
        half.touch(mode=0o600)
        with zipfile.ZipFile(half, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.write(database, DATABASE[manifest["kind"]])
            archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
        with half.open("rb+") as whole:
            os.fsync(whole.fileno())
        half.replace(to)
    finally:
        half.unlink(missing_ok=True)


def manifest_of(file: Path) -> dict[str, Any]:
    """Raises CommandError where it is no backup, or is damaged."""
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = json.loads(archive.read(MANIFEST))
            if manifest["kind"] in DATABASE:
                return manifest
    except FileNotFoundError:
        raise CommandError(f"There is no file {file}.") from None
    except (zipfile.BadZipFile, KeyError, TypeError, ValueError):
        pass
    raise CommandError(f"{file} is no backup of farmbuild, or it is damaged. Take another one.")


def unpack(file: Path, kind: str, to: Path) -> None:
    """The database in it; raises CommandError where bytes of it are damaged."""
    try:
        to.touch(mode=0o600)
        with zipfile.ZipFile(file) as archive, archive.open(DATABASE[kind]) as packed, to.open("wb") as out:
            shutil.copyfileobj(packed, out, 1 << 20)
    except (zipfile.BadZipFile, KeyError, EOFError) as error:
        raise CommandError(f"{file} is damaged ({error}). Take another one.") from error
