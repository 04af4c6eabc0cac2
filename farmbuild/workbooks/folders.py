"""A folder of files that is there whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from pathlib import Path


class FolderError(ValueError):
    """The folder cannot be written; the text is a sentence for the user."""


def check_folder(folder: Path, *, overwrite: bool) -> None:
    """Raise FolderError when ``folder`` is a file, or holds something and must not be replaced."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise FolderError(f"{folder} is not a folder. Give another one with --out.")
    if not overwrite and folder.is_dir() and any(folder.iterdir()):
        raise FolderError(
            f"{folder} already holds files. Give another folder, or add --overwrite, which puts a new folder in "
            "its place and keeps the old one beside it."
        )


def write_folder(folder: Path, files: Iterable[tuple[str, bytes]], *, overwrite: bool) -> Path | None:
    """Write every file into a folder beside ``folder``, then give it that name.

    Returns where the folder that was there is kept, if it held anything. When something fails on the way,
    nothing has changed. Raises FolderError, and OSError when the disk refuses.
    """
    check_folder(folder, overwrite=overwrite)
    folder = folder.resolve()
    folder.parent.mkdir(parents=True, exist_ok=True)
    fresh = folder.with_name(f".{folder.name}-being-written-{os.getpid()}")
    fresh.mkdir()
    try:
        for name, data in files:
            (fresh / name).write_bytes(data)
        kept = _make_room(folder)
        try:
            fresh.rename(folder)
        except OSError:
            if kept:
                kept.rename(folder)
            raise
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    return kept


def _make_room(folder: Path) -> Path | None:
    if not folder.exists():
        return None
    if not any(folder.iterdir()):
        folder.rmdir()
        return None
    number = 1
    while (kept := folder.with_name(f"{folder.name}-before-{number}")).exists():
        number += 1
    folder.rename(kept)
    return kept
