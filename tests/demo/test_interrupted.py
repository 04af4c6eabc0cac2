"""Commands that are stopped at any moment go on where they were, and say in a sentence what keeps them from it."""

from __future__ import annotations

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management.base import CommandError
from django.db import OperationalError

from farmbuild.command import main
from farmbuild.common.serving import plain_words
from tests.kept import copy_sqlite
from tests.size import LONG
from tests.where import ROOT

#: Each has a database of its own, in a file.
WITHOUT_DATABASE = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}


def start(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=WITHOUT_DATABASE | {"FARMBUILD_DATA": str(folder)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ends(folder: Path, *arguments: str) -> tuple[int, str]:
    """The code with which it ends, and all that it says."""
    process = start(folder, *arguments)
    out, said = process.communicate(timeout=300)
    return process.returncode, out + said


def number_of(folder: Path, rows: str) -> int:
    with sqlite3.connect(folder / "db.sqlite3") as database:
        return database.execute(f"SELECT COUNT(*) FROM {rows}").fetchone()[0]


def stop_while_loading(start: Callable[[], subprocess.Popen[str]], folder: Path, seconds: float) -> None:
    """Killed the first time, then by Ctrl+C, each so long after it began to load."""
    for stopped_by in (signal.SIGKILL, signal.SIGINT):
        process = start()
        assert process.stderr is not None
        while "Loading" not in (line := process.stderr.readline()):
            assert line, "it ended before it loaded anything"
        time.sleep(seconds)
        process.send_signal(stopped_by)
        _, said = process.communicate(timeout=60)
        assert process.returncode != 0, "it was done before it was stopped"
        assert "Traceback" not in said
        if stopped_by is signal.SIGINT:
            assert "Stopped. The same command goes on from here." in said
        assert number_of(folder, "orgs_organisation") == 0


def all_is_there_once(folder: Path, out: Path, said: str) -> None:
    # It says where it writes, and how far the houses are.
    assert str(out) in said
    for words in ("North Field 1 is covered.", "North Field 2 is under way: Sight and adjust.", "part received, due"):
        assert words in said
    assert {path.name for path in out.glob("order-*.xlsx")} == {
        line.strip() for line in said.splitlines() if line.strip().startswith("order-")
    }
    # What came in, what was built and what was counted is there too.
    for rows, number in {
        "orgs_organisation": 1,
        "plans_plan WHERE accepted_at IS NOT NULL": 1,
        "buying_purchaseorder WHERE plan_id IS NOT NULL": 4,
        # Two of them of a joint order.
        "buying_receipt": 8,
        "crew_task WHERE kind = 'film' AND state = 'done'": 1,
        "crew_schedule WHERE published_at IS NOT NULL": 2,
        "stock_stockcount": 1,
    }.items():
        assert number_of(folder, rows) == number, rows


@pytest.mark.skipif(not LONG, reason="in the long run: once the installed program does it, quality/test_installed.py")
@pytest.mark.parametrize("seconds", [1.0, 0.2, 0.5, 2.0, 4.0])
def test_the_demo_goes_on_after_it_was_stopped(tmp_path: Path, seconds: float) -> None:
    command = ("demo", "--no-serve", "--out", str(tmp_path / "out"))
    copy_sqlite(tmp_path / "db.sqlite3")
    stop_while_loading(lambda: start(tmp_path, *command), tmp_path, seconds)
    code, said = ends(tmp_path, *command)
    assert code == 0, said
    all_is_there_once(tmp_path, tmp_path / "out", said)


@pytest.mark.parametrize("command", ["demo", "start"])
def test_a_port_that_is_taken_is_said_before_the_work(
    tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    settings.DATA_DIR = tmp_path / "data"
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(SystemExit) as ended:
            main(["manage.py", command, "--port", str(port)])
    said = "".join(capsys.readouterr())
    assert (ended.value.code, said.count("\n")) == (1, 1) and f"Port {port} is taken" in said, said
    # Nothing was made.
    assert not settings.DATA_DIR.exists()


def test_what_cannot_be_used_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "db.sqlite3").write_bytes(b"no database of anybody " * 400)
    code, said = ends(tmp_path, "start", "--no-serve")
    assert code == 1 and "is no database of farmbuild" in said and "Traceback" not in said, said
    code, said = ends(Path("/dev/null/there"), "start", "--no-serve")
    assert code == 1 and "cannot be kept in /dev/null/there" in said and "Traceback" not in said, said


def test_a_full_disk_is_said(tmp_path: Path) -> None:
    """SQLite is told that its file may not grow; it then answers as on a full disk."""
    with sqlite3.connect(tmp_path / "small.sqlite3") as small:
        small.execute("PRAGMA max_page_count = 2")
        small.execute("CREATE TABLE much (bytes BLOB)")
        with pytest.raises(sqlite3.OperationalError) as full:
            small.execute("INSERT INTO much VALUES (zeroblob(100000))")
    with pytest.raises(CommandError, match="The disk is full"), plain_words():
        raise OperationalError(*full.value.args) from full.value
