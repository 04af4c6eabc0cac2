"""A process of its own on the test's database, killed at random points of its work."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

from django.db import connection

from tests.size import sized
from tests.where import ROOT

KILLS = sized(10, 50)


def database_url() -> str:
    """Of the database that this test runs on."""
    now = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{now['NAME']}"
    return f"postgresql://{quote(now['USER'])}@{now['HOST']}:{now['PORT']}/{now['NAME']}"


def kill_again_and_again(
    module: str, *arguments: int, folder: Path, within: float, after_each: Callable[[list[str]], None], seed: int
) -> list[str]:
    """Run ``module`` KILLS times and kill it up to ``within`` seconds after it is ready; gives the lines it said.

    ``after_each`` is called with all lines said so far, once the process is gone.
    """
    chance = random.Random(seed)
    said: list[str] = []
    for _ in range(KILLS):
        worker = subprocess.Popen(
            [sys.executable, "-m", module, *map(str, arguments)],
            cwd=ROOT,
            env=os.environ
            | {
                "DJANGO_SETTINGS_MODULE": "farmbuild.settings",
                "DATABASE_URL": database_url(),
                "FARMBUILD_DATA": str(folder),
            },
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert worker.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0.0, within))
        finally:
            worker.send_signal(signal.SIGKILL)
            rest, _ = worker.communicate()
        # The last line may be cut off by the kill.
        said += rest.split("\n")[:-1]
        after_each(said)
    return said
