"""Work that the database queues is done though workers are killed and PostgreSQL is started anew under them."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time

import pytest

from tests.postgres import TEMPLATE, Cluster, binaries
from tests.size import LONG
from tests.waiting import until
from tests.where import ROOT

pytestmark = pytest.mark.skipif(
    not binaries() and not os.environ.get("FARMBUILD_REQUIRE_ALL"), reason="needs PostgreSQL's own programs"
)
PLANS, SCHEDULES, WORKERS, KILLS, RESTARTS = (100, 20, 3, 20, 2) if LONG else (4, 1, 2, 2, 1)
#: A schedule uses up all the seconds that it has; each begins anew after a kill.
SECONDS = 30 if LONG else 3
#: As ``manage.py work``, but what is silent is taken up within seconds.
WORK = f"""
from datetime import timedelta
import django
django.setup()
from farmbuild.common import background, long_work
from farmbuild.crew.schedule import working
from django.core.management import execute_from_command_line
long_work.SILENCE, background.LOOK_EVERY, working.SECONDS = timedelta(seconds=10), 1, {SECONDS}
execute_from_command_line(["manage.py", "work"])
"""


@pytest.fixture
def cluster():
    found = Cluster(binaries())
    found.start()
    found._psql("postgres", "-c", f"CREATE DATABASE work TEMPLATE {TEMPLATE}")
    yield found
    found.stop()


class Workers:
    def __init__(self, cluster: Cluster, log) -> None:
        self.env = os.environ | {
            "DATABASE_URL": cluster.address("work"),
            "FARMBUILD_TASKS": "database",
            "DJANGO_SETTINGS_MODULE": "farmbuild.settings",
            "PYTHONPATH": str(ROOT),
        }
        self.log, self.all = log, []

    def run(self, *arguments: str) -> None:
        subprocess.run([sys.executable, *arguments], cwd=ROOT, env=self.env, check=True, capture_output=True)

    def start(self) -> subprocess.Popen[bytes]:
        with self.log.open("ab") as out:
            found = subprocess.Popen([sys.executable, "-c", WORK], cwd=ROOT, env=self.env, stdout=out, stderr=out)
        self.all.append(found)
        return found

    def end(self) -> None:
        for found in self.all:
            found.kill()
            found.wait()


def states(cluster: Cluster) -> dict[str, int]:
    """How many plans and schedules are in each state."""
    sql = (
        "SELECT json_object_agg(state, n) FROM (SELECT state, count(*) AS n FROM"
        " (SELECT state FROM plans_plan UNION ALL SELECT state FROM crew_schedule) s GROUP BY state) t"
    )
    done = subprocess.run(
        [str(cluster.bin_dir / "psql"), "-qXtA", "-c", sql, cluster.address("work")],
        capture_output=True,
        text=True,
        check=False,
    )
    return json.loads(done.stdout or "{}") if done.returncode == 0 else {}


def test_all_is_done_once_though_workers_die_and_the_database_restarts(cluster, tmp_path):
    workers = Workers(cluster, tmp_path / "log")
    try:
        workers.run("manage.py", "migrate", "-v0")
        workers.run("-m", "tests.deployment.asking", str(PLANS), str(SCHEDULES))
        assert states(cluster) == {"waiting": PLANS + SCHEDULES}
        running = [workers.start() for _ in range(WORKERS)]
        done = {"ready": PLANS + SCHEDULES}
        chance = random.Random(20261130)
        turns = ["kill"] * KILLS + ["restart"] * RESTARTS
        chance.shuffle(turns)
        for turn in turns:
            until(lambda: (now := states(cluster)).get("working") or now == done, 120)
            if states(cluster) == done:
                break
            if turn == "kill":
                running.remove(dead := chance.choice(running))
                dead.kill()
                running.append(workers.start())
            else:
                data = str(cluster.folder / "data")
                cluster._run("pg_ctl", "-D", data, "-w", "-m", "fast", "-l", str(cluster.folder / "log"), "restart")
            time.sleep(chance.random())
        until(lambda: states(cluster) == done, 1200 if LONG else 240)
        assert all(found.poll() is None for found in running), workers.log.read_text()[-2000:]
        # Told to stop, they end by themselves; one that waits for its next try ends at once.
        for found in running:
            found.terminate()
        assert {found.wait(60) for found in running} <= {0, -signal.SIGTERM}
    finally:
        workers.end()
