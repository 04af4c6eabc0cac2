"""A process of its own on the test's database, killed at random points of its work."""

from __future__ import annotations

import atexit
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache
from urllib.parse import quote

from django.db import connection

from tests.size import sized
from tests.waiting import until
from tests.where import ROOT

KILLS = sized(10, 50)
ROUNDS = 3


def database_url() -> str:
    """Of the database that this test runs on."""
    now = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{now['NAME']}"
    return f"postgresql://{quote(now['USER'])}@{now['HOST']}:{now['PORT']}/{now['NAME']}"


def _wait_for_the_server() -> None:
    """Until PostgreSQL has ended the sessions of what was killed: one of them may be storing still."""
    if connection.vendor != "postgresql":
        return
    others = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
        " AND backend_type = 'client backend' AND pid <> pg_backend_pid()"
    )
    with connection.cursor() as cursor:
        # No session outlives the process that was killed.
        until(lambda: not cursor.execute(others).fetchone()[0])


@cache
def _forks(url: str) -> subprocess.Popen[str]:
    """Of all these tests of a process; it has no connection of its own."""
    folder = tempfile.TemporaryDirectory()
    given = {"DJANGO_SETTINGS_MODULE": "farmbuild.settings", "DATABASE_URL": url, "FARMBUILD_DATA": folder.name}
    forks = subprocess.Popen(
        [sys.executable, "-m", "tests.stock.forked"],
        cwd=ROOT,
        env=os.environ | given,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        bufsize=1,
    )
    atexit.register(folder.cleanup)
    # Ends with what it reads, before its folder goes.
    atexit.register(forks.__exit__, None, None, None)
    return forks


def kill_again_and_again(module: str, *arguments: int, after_each: Callable[[list[str]], None], seed: int) -> list[str]:
    """Run ``work()`` of the module KILLS times and kill it within the time of ROUNDS; gives what it said was stored.

    The first is killed once it has said something, which tells how long a round takes here and now. ``after_each`` is
    called with all that was said so far, once the process is gone.
    """
    chance = random.Random(seed)
    said: list[str] = []
    forks = _forks(database_url())
    took = 0.0
    for _ in range(KILLS):
        forks.stdin.write(f"{' '.join([module, *map(str, arguments)])}\n")
        child = int(forks.stdout.readline())
        try:
            assert forks.stdout.readline() == "ready\n"
            if not took:
                began = time.monotonic()
                said.append(forks.stdout.readline().strip())
                took = time.monotonic() - began
            time.sleep(chance.uniform(0.0, ROUNDS * took))
        finally:
            os.kill(child, signal.SIGKILL)
        # A line that the kill cut off is not one of those that were said.
        while not (line := forks.stdout.readline()).endswith("gone\n"):
            said.append(line.strip())
        _wait_for_the_server()
        after_each(said)
    return said
