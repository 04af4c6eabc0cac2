"""What is kept on disk is for whoever runs the site: nobody else on the machine reads it. Systems with modes only."""

from __future__ import annotations

import contextlib
import os
import stat
from pathlib import Path

FILE, FOLDER = 0o600, 0o700
KEY = ".secret-key"
#: Folders that hold nothing but what is made here; one of somebody else's files stays as open as it was.
_OURS = (KEY, "db.sqlite3", "demo-out", ".written-")


def keep_to_owner(folder: Path, database: str) -> None:
    """``database``: path of the SQLite file, or "". Those beside it take its mode from SQLite when they are made."""
    if os.name != "posix":
        return
    names = [database + end for end in ("", "-wal", "-shm", "-journal")] if database else []
    for path in (folder / KEY, *map(Path, names)):
        _close(path, FILE)
    with contextlib.suppress(OSError):
        if all(path.name.startswith(_OURS) for path in folder.iterdir()):
            _close(folder, FOLDER)


def _close(path: Path, mode: int) -> None:
    # What is not there is open to nobody, and what belongs to another is his to close.
    with contextlib.suppress(OSError):
        if stat.S_IMODE(path.stat().st_mode) & 0o077:
            path.chmod(mode)
