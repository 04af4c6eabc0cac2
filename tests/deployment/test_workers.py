"""Work that the database queues is done though workers are killed and PostgreSQL is started anew under them.

The long run asks for it at pages of two servers, and looks at all of them until the last has its answer.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import psycopg
import pytest

from tests.deployment.at_pages import People, all_ask
from tests.deployment.machine import free_port, listens
from tests.postgres import TEMPLATE, Cluster, binaries
from tests.size import LONG
from tests.waiting import until
from tests.where import ROOT

pytestmark = pytest.mark.skipif(
    not binaries() and not os.environ.get("FARMBUILD_REQUIRE_ALL"), reason="needs PostgreSQL's own programs"
)
PLANS, SCHEDULES, SERVERS, WORKERS, KILLS, RESTARTS = (100, 20, 2, 3, 20, 2) if LONG else (4, 1, 0, 2, 2, 1)
#: A schedule uses up all the seconds that it has; each begins anew after a kill.
SECONDS = 30 if LONG else 3
#: Seconds after which a worker is given up; beside much else one may not get to say a word for a while.
SILENT = 30 if LONG else 10
#: Seconds for all of it.
ALL_WITHIN = 2700 if LONG else 360
#: As ``manage.py work``, but what is silent is taken up within seconds.
WORK = f"""
from datetime import timedelta
import django
django.setup()
from farmbuild.common import background, long_work
from farmbuild.crew.schedule import working
from django.core.management import execute_from_command_line
long_work.SILENCE, background.LOOK_EVERY, working.SECONDS = timedelta(seconds={SILENT}), 1, {SECONDS}
execute_from_command_line(["manage.py", "work"])
"""


#: Keeps how often each row was begun, and was done.
COUNTING = """
CREATE TABLE seen (of text, pk bigint, state text);
CREATE FUNCTION note_seen() RETURNS trigger LANGUAGE plpgsql AS
    'BEGIN INSERT INTO seen VALUES (TG_TABLE_NAME, NEW.id, NEW.state); RETURN NULL; END';
CREATE TRIGGER seen AFTER UPDATE ON plans_plan FOR EACH ROW
    WHEN (NEW.state <> OLD.state OR NEW.worker <> OLD.worker) EXECUTE FUNCTION note_seen();
CREATE TRIGGER seen AFTER UPDATE ON crew_schedule FOR EACH ROW
    WHEN (NEW.state <> OLD.state OR NEW.worker <> OLD.worker) EXECUTE FUNCTION note_seen();
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

    def run(self, *arguments: str) -> bytes:
        return subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env=self.env, check=True, capture_output=True
        ).stdout

    def start(self, *arguments: str) -> subprocess.Popen[bytes]:
        """A worker, or what is given."""
        command = [sys.executable, *(arguments or ("-c", WORK))]
        with self.log.open("ab") as out:
            found = subprocess.Popen(command, cwd=ROOT, env=self.env, stdout=out, stderr=out)
        self.all.append(found)
        return found

    def serve(self) -> int:
        """A server; its port."""
        port = free_port()
        self.start("-m", "waitress", f"--listen=127.0.0.1:{port}", "farmbuild.wsgi:application")
        until(lambda: listens(port), 120)
        return port

    def end(self) -> None:
        for found in self.all:
            found.kill()
            found.wait()


class Asking:
    """What the database answers; None while it does not answer."""

    def __init__(self, address: str) -> None:
        self.address, self.line = address, None

    def __call__(self, sql: str) -> Any:
        try:
            # Two threads ask; what one of them loses is not taken from under the other.
            line = self.line = self.line or psycopg.connect(self.address, autocommit=True)
            return line.execute(sql).fetchone()[0]
        except psycopg.OperationalError:
            self.line = None
            return None

    def states(self) -> dict[str, int]:
        """How many plans and schedules are in each state."""
        # A moment between two looks: the machine has other things to do.
        time.sleep(0.1)
        sql = (
            "SELECT json_object_agg(state, n) FROM (SELECT state, count(*) AS n FROM"
            " (SELECT state FROM plans_plan UNION ALL SELECT state FROM crew_schedule) s GROUP BY state) t"
        )
        return self(sql) or {}


def disturb(cluster: Cluster, asking: Asking, workers: Workers, running: list, ends: float) -> list[str]:
    """Workers are killed and the database started anew, by chance, from the first work to the last. What was done."""
    whole, chance, turns = PLANS + SCHEDULES, random.Random(20261130), ["kill"] * KILLS + ["restart"] * RESTARTS
    chance.shuffle(turns)

    def far_enough(part: int) -> bool:
        now = asking.states()
        return (now.get("ready", 0) >= part and bool(now.get("working"))) or now == {"ready": whole}

    for number, turn in enumerate(turns):
        part = whole * number // len(turns)
        until(lambda part=part: far_enough(part), ends - time.monotonic())
        if asking.states() == {"ready": whole}:
            return turns[:number]
        time.sleep(chance.random())
        if turn == "kill":
            running.remove(dead := chance.choice(running))
            dead.kill()
            running.append(workers.start())
        else:
            data = str(cluster.folder / "data")
            cluster._run("pg_ctl", "-D", data, "-w", "-m", "fast", "-l", str(cluster.folder / "log"), "restart")
    return turns


def test_all_is_done_once_though_workers_die_and_the_database_restarts(cluster, tmp_path):
    workers, ends = Workers(cluster, tmp_path / "log"), time.monotonic() + ALL_WITHIN
    done, began, asking = {"ready": PLANS + SCHEDULES}, time.monotonic(), Asking(cluster.address("work"))
    try:
        workers.run("manage.py", "migrate", "-v0")
        cluster._psql("work", "-c", COUNTING)
        ask = ["-m", "tests.deployment.asking", str(PLANS), str(SCHEDULES)]
        with ThreadPoolExecutor(1) as pool:
            if SERVERS:
                forms = json.loads(workers.run(*ask, "forms"))
                people = People([workers.serve() for _ in range(SERVERS)], ends)
                at_pages = pool.submit(all_ask, people, forms, lambda: asking.states() == done)
            else:
                workers.run(*ask)
                assert asking.states() == {"waiting": PLANS + SCHEDULES}
            running = [workers.start() for _ in range(WORKERS)]
            turns = disturb(cluster, asking, workers, running, ends)
            until(lambda: asking.states() == done, ends - time.monotonic())
            if SERVERS:
                at_pages.result(ends - time.monotonic())
                assert len(people.pages) == PLANS + SCHEDULES and people.spinning() == []
        # Begun as often as it had to be, done once.
        count = "SELECT json_object_agg(state, n) FROM (SELECT state, count(*) AS n FROM seen GROUP BY state) t"
        seen = asking(count)
        assert seen["ready"] == PLANS + SCHEDULES and "failed" not in seen
        assert all(found.poll() is None for found in running), workers.log.read_text()[-2000:]
        if SERVERS:
            told = f"{turns.count('kill')} workers killed, the database started anew {turns.count('restart')} times"
            sys.stdout.write(f"\n{told}, in {time.monotonic() - began:.0f} s; rows came to: {seen}\n")
            sys.stdout.write(f"{SERVERS} servers answered {dict(people.answers)}, and said {dict(people.said)}\n")
        # Told to stop, they end by themselves; one that waits for its next try ends at once.
        for found in running:
            found.terminate()
        assert {found.wait(60) for found in running} <= {0, -signal.SIGTERM}
    finally:
        workers.end()
