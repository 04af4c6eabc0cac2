"""Database, key and their folder are read by their owner alone, whoever left them open."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from farmbuild.common.own_files import keep_to_owner

pytestmark = pytest.mark.skipif(os.name != "posix", reason="permissions of files are those of POSIX")
ROOT = Path(__file__).parents[2]


def modes(folder: Path) -> dict[str, int]:
    return {path.name: stat.S_IMODE(path.stat().st_mode) for path in (folder, *folder.iterdir())}


def test_the_first_start_makes_all_of_it_for_the_owner(tmp_path):
    """With an umask that opens everything to everybody."""
    data = tmp_path / "made" / "data"
    env = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"} | {"FARMBUILD_DATA": str(data)}
    script = "import os, sys; os.umask(0); from farmbuild.command import main; main(['x', 'migrate', '-v0', 'common'])"
    subprocess.run([sys.executable, "-c", script], check=True, cwd=ROOT, env=env)
    assert modes(data) == {"data": 0o700, ".secret-key": 0o600, "db.sqlite3": 0o600}


def test_what_was_left_open_is_closed_with_the_files_beside_it(tmp_path):
    """Those of write-ahead logging hold rows too."""
    name = tmp_path / "db.sqlite3"
    connection = sqlite3.connect(name)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("CREATE TABLE lots (id)")
    connection.commit()
    (tmp_path / ".secret-key").touch()
    tmp_path.chmod(0o755)
    for path in tmp_path.iterdir():
        path.chmod(0o644)
    keep_to_owner(tmp_path, str(name))
    connection.close()
    assert set(modes(tmp_path).values()) == {0o600, 0o700}


def test_a_folder_with_files_of_others_stays_as_it_is(tmp_path):
    tmp_path.chmod(0o755)
    (tmp_path / "report.txt").touch(mode=0o644)
    (tmp_path / "db.sqlite3").touch()
    (tmp_path / "db.sqlite3").chmod(0o644)
    keep_to_owner(tmp_path, str(tmp_path / "db.sqlite3"))
    assert modes(tmp_path) == {tmp_path.name: 0o755, "report.txt": 0o644, "db.sqlite3": 0o600}


def test_what_is_not_there_is_no_fault(tmp_path):
    keep_to_owner(tmp_path / "none", str(tmp_path / "none" / "db.sqlite3"))
    keep_to_owner(tmp_path, "")
    assert not (tmp_path / "none").exists()
