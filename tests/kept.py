"""The migrated database, kept in ``.ci/out/kept`` so that it is made once and not by every process of every run.

The name of a kept file is a digest of all that migrations are made from. Django migrates each copy once more, so a
migration that the digest missed is applied all the same. Where migrations were only added to those of a kept file, it
is carried on; otherwise, and in a fresh clone, all are run from the first.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.where import ROOT

FOLDER = ROOT / ".ci" / "out" / "kept"
#: Kept files of a kind.
MOST = 8
#: What migrations are run by.
_HOW = ("farmbuild/settings.py", ".locks/dev.txt", "farmbuild/common/quick_migrations.py")
_NAMED = re.compile(r"\bfarmbuild(?:\.\w+)+")


def _sources() -> Iterator[Path]:
    """Migrations, the modules that they name, what runs them on SQLite, the settings, and packages with versions."""
    migrations = sorted(ROOT.glob("farmbuild/**/migrations/*.py"))
    names = {name for path in migrations for name in _NAMED.findall(path.read_text())}
    named = [ROOT.joinpath(*name.split(".")[:depth]) for name in names for depth in range(2, name.count(".") + 2)]
    files = {file for path in named for file in (path.with_suffix(".py"), path / "__init__.py") if file.is_file()}
    files |= set(ROOT.glob("farmbuild/common/sqlite/*.py"))
    yield from (*migrations, *sorted(files), *map(ROOT.joinpath, _HOW))


def digest() -> str:
    """Of the sources, and of the Python and SQLite that run them."""
    seen = hashlib.sha256(f"{sys.version} {sqlite3.sqlite_version}".encode())
    for path in _sources():
        seen.update(f"\n{path.relative_to(ROOT)}\n".encode() + path.read_bytes())
    return seen.hexdigest()[:20]


def _sums() -> dict[str, str]:
    """Each migration of ours, and what a field or guard in it is made by."""
    files = {path.relative_to(ROOT).as_posix(): path for path in _sources()}
    return {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in files.items() if name not in _HOW}


def _goes_on(before: dict[str, str], now: dict[str, str]) -> bool:
    """Whether nothing but new migrations was added."""
    return all(now.get(name) == held for name, held in before.items()) and all(
        "/migrations/" in name for name in now.keys() - before.keys()
    )


def migrate(address: str) -> None:
    """In a process of its own, on the database at ``address``."""
    given = {"DATABASE_URL": address, "DJANGO_SETTINGS_MODULE": "farmbuild.settings"}
    command = [sys.executable, "-m", "tests.quick_migrations"]
    subprocess.run(command, cwd=ROOT, env=os.environ | given, check=True)


@contextmanager
def kept(kind: str, make: Callable[[Path, Path | None], object]) -> Iterator[Path]:
    """The kept file of that kind, made by ``make`` where there is none; it stays where it is until the block ends.

    ``make`` is given where it is to be made, and the kept file to carry on, if there is one.
    """
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        wanted = digest()
        found = _whole(f"{wanted}.*.{kind}")
        if not found:
            fresh, now = FOLDER / f"fresh.{kind}", _sums()
            for half_made in FOLDER.glob(f"{fresh.name}*"):
                half_made.unlink()
            make(fresh, _longest(kind, now))
            _made_of(wanted).write_text(json.dumps(now))
            found = [fresh.rename(FOLDER / f"{wanted}.{_sum(fresh)}.{kind}")]
            _drop_old(kind)
        found[0].touch()
        yield found[0]


def _whole(pattern: str) -> list[Path]:
    """What is half made, or was spoiled since, does not bear the sum of what is in it."""
    return [path for path in FOLDER.glob(pattern) if path.suffixes[-2] == f".{_sum(path)}"]


def _made_of(name: str) -> Path:
    return FOLDER / f"{name}.json"


def _longest(kind: str, now: dict[str, str]) -> Path | None:
    """The kept file to which the fewest migrations are to be added."""
    held = {
        path: json.loads(_made_of(path.name.partition(".")[0]).read_text())
        for path in _whole(f"*.*.{kind}")
        if _made_of(path.name.partition(".")[0]).exists()
    }
    on = [path for path, before in held.items() if _goes_on(before, now)]
    return max(on, key=lambda path: len(held[path]), default=None)


def _drop_old(kind: str) -> None:
    """Those used last stay, so that a migration that is still being written is not paid for with all before it."""
    paths = sorted(FOLDER.glob(f"*.*.{kind}"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in paths[MOST:]:
        path.unlink()
    names = {path.name.partition(".")[0] for path in FOLDER.glob("*.*.*")}
    for path in FOLDER.glob("*.json"):
        if path.stem not in names:
            path.unlink()


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:20]


def _migrated(fresh: Path, before: Path | None) -> None:
    if before:
        shutil.copyfile(before, fresh)
    migrate(f"sqlite:///{fresh}")


def copy_sqlite(to: Path) -> None:
    """A migrated SQLite database at ``to``."""
    with kept("sqlite3", _migrated) as path:
        shutil.copyfile(path, to)
