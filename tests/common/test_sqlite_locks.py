"""The locks of SQLite are those of a process: nothing that another connection of it does may end them."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from contextlib import ExitStack, closing
from pathlib import Path
from sqlite3 import Connection
from threading import Thread

from django.conf import settings

from farmbuild.common.sqlite.base import DatabaseWrapper

#: A command beside the site: it writes a row, counts them all, and closes, maybe as the last.
COMMAND = """
import sqlite3, sys
opened = sqlite3.connect(sys.argv[1])
opened.execute("INSERT INTO kept VALUES (2)")
opened.commit()
print(opened.execute("SELECT COUNT(*) FROM kept").fetchone()[0])
opened.close()
"""


def beside(file: Path) -> int:
    done = subprocess.run([sys.executable, "-c", COMMAND, str(file)], capture_output=True, encoding="utf-8", check=True)
    return int(done.stdout)


def opening(file: Path) -> Callable[[], Connection]:
    """As a server opens it."""
    options = {"init_command": "PRAGMA journal_mode=WAL", "check_same_thread": False}
    wrapper = DatabaseWrapper(settings.DATABASES["default"] | {"NAME": file, "OPTIONS": options}, "beside")
    return lambda: wrapper.get_new_connection(wrapper.get_connection_params())


def test_a_command_beside_a_site_of_several_threads_loses_no_row(tmp_path):
    file = tmp_path / "db.sqlite3"
    connect = opening(file)
    with ExitStack() as open_ones:
        first = open_ones.enter_context(closing(connect()))
        first.execute("CREATE TABLE kept (value INTEGER)")
        first.execute("INSERT INTO kept VALUES (1)")
        first.commit()
        # Another thread of the site opens it too.
        open_ones.enter_context(closing(connect()))
        assert beside(file) == 2
        first.execute("INSERT INTO kept VALUES (3)")
        first.commit()
        assert beside(file) == 4


def test_threads_that_make_the_file_together_keep_their_locks(tmp_path):
    file, made = tmp_path / "db.sqlite3", []
    connect = opening(file)
    threads = [Thread(target=lambda: made.append(connect())) for _ in range(8)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    made[0].execute("CREATE TABLE kept (value INTEGER)")
    made[0].commit()
    assert (beside(file), beside(file)) == (1, 2)
    made[-1].execute("INSERT INTO kept VALUES (1)")
    made[-1].commit()
    assert beside(file) == 4
    for each in made:
        each.close()


def test_what_is_stored_outlasts_a_power_cut(tmp_path):
    """By the manual of SQLite with a log: FULL (2) waits for the disk at each commit, NORMAL (1) does not."""
    wrapper = DatabaseWrapper(settings.DATABASES["default"] | {"NAME": tmp_path / "db.sqlite3"}, "beside")
    with closing(wrapper.get_new_connection(wrapper.get_connection_params())) as opened:
        found = [opened.execute(f"PRAGMA {name}").fetchone()[0] for name in ("journal_mode", "synchronous")]
    assert found == ["wal", 2]
