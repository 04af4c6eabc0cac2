"""The SQLite database: copied by its own backup while others write, and put where none is yet."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from farmbuild.common.backups.contents import of_sqlite


def copy(database: Path, to: Path) -> dict[str, Any]:
    """The contents of the copy. Others go on reading and writing meanwhile."""
    if not database.exists():
        raise CommandError(f"There is no database at {database}.")
    to.touch(mode=0o600)
    try:
        with closing(sqlite3.connect(database)) as source, closing(sqlite3.connect(to)) as target:
            source.backup(target)
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_FULL:
            raise CommandError("The disk is full. Give a folder with more room.") from error
        raise CommandError(f"{database} cannot be copied: {error}.") from error
    return contents(to)


def contents(database: Path) -> dict[str, Any]:
    with closing(sqlite3.connect(database)) as opened:
        if (said := opened.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
            raise CommandError(f"{database} is damaged: {said}.")
        return of_sqlite(opened)


def check_empty(database: Path) -> None:
    """Raises CommandError where something is there already."""
    if database.exists():
        with closing(sqlite3.connect(database)) as opened:
            if opened.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise CommandError(f"{database} has tables already. Move it away first; nothing was changed.")


def put(copied: Path, database: Path) -> None:
    """``copied`` becomes the database. What an empty one left beside it would be taken for news of this one."""
    for beside in ("", "-wal", "-shm"):
        database.with_name(database.name + beside).unlink(missing_ok=True)
    copied.replace(database)
