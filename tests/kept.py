"""The migrated database, kept in ``.ci/out/kept`` so that it is made once and not by every process of every run.

The name of a kept file is a digest of all that migrations are made from. Django migrates each copy once more, so a
migration that the digest missed is applied all the same. Where migrations were only added, the SQLite file before is
carried on; otherwise, and in a fresh clone, all are run from the first.
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
_NAMED = re.compile(r"\bfarmbuild(?:\.\w+)+")


def _sources() -> Iterator[Path]:
    """Migrations, the modules that they name, what runs them on SQLite, the settings, and packages with versions."""
    migrations = sorted(ROOT.glob("farmbuild/**/migrations/*.py"))
    names = {name for path in migrations for name in _NAMED.findall(path.read_text())}
    named = [ROOT.joinpath(*name.split(".")[:depth]) for name in names for depth in range(2, name.count(".") + 2)]
    files = {file for path in named for file in (path.with_suffix(".py"), path / "__init__.py") if file.is_file()}
    files |= set(ROOT.glob("farmbuild/common/sqlite/*.py"))
    yield from (*migrations, *sorted(files), ROOT / "farmbuild" / "settings.py", ROOT / ".locks" / "dev.txt")


def digest() -> str:
    """Of the sources, and of the Python and SQLite that run them."""
    seen = hashlib.sha256(f"{sys.version} {sqlite3.sqlite_version}".encode())
    for path in _sources():
        seen.update(f"\n{path.relative_to(ROOT)}\n".encode() + path.read_bytes())
    return seen.hexdigest()[:20]


def _sums() -> dict[str, str]:
    """Each migration of ours, and what a field or guard in it is made by."""
    settings = {ROOT / "farmbuild" / "settings.py", ROOT / ".locks" / "dev.txt"}
    files = [path for path in _sources() if path not in settings]
    return {str(path.relative_to(ROOT)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def _goes_on(before: dict[str, str], now: dict[str, str]) -> bool:
    """Whether nothing but new migrations was added."""
    return all(now.get(name) == held for name, held in before.items()) and all(
        "/migrations/" in name for name in now.keys() - before.keys()
    )


def migrate(address: str) -> None:
    """In a process of its own, on the database at ``address``."""
    command = [sys.executable, ROOT / "manage.py", "migrate", "--verbosity=0"]
    subprocess.run(command, env=os.environ | {"DATABASE_URL": address}, check=True)


@contextmanager
def kept(kind: str, make: Callable[[Path], object]) -> Iterator[Path]:
    """The kept file of that kind, made by ``make`` where there is none; it stays where it is until the block ends."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        name = f"{digest()}.{{}}.{kind}"
        whole = [path for path in FOLDER.glob(name.format("*")) if path.name == name.format(_sum(path))]
        if not whole:
            # What is half made, or was spoiled since, does not bear the sum of what is in it.
            fresh, made_of, now = FOLDER / f"fresh.{kind}", FOLDER / f"{kind}.json", _sums()
            before = [path for path in FOLDER.glob(f"*.*.{kind}") if path.suffixes[-2] == f".{_sum(path)}"]
            goes_on = kind == "sqlite3" and len(before) == 1 and made_of.exists()
            goes_on = goes_on and _goes_on(json.loads(made_of.read_text()), now)
            for old in FOLDER.glob(f"*.{kind}*"):
                if not (goes_on and old == before[0]):
                    old.unlink()
            if goes_on:
                before[0].rename(fresh)
            made_of.unlink(missing_ok=True)
            make(fresh)
            whole = [fresh.rename(FOLDER / name.format(_sum(fresh)))]
            if kind == "sqlite3":
                made_of.write_text(json.dumps(now))
        yield whole[0]


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:20]


def copy_sqlite(to: Path) -> None:
    """A migrated SQLite database at ``to``."""
    with kept("sqlite3", lambda fresh: migrate(f"sqlite:///{fresh}")) as path:
        shutil.copyfile(path, to)
