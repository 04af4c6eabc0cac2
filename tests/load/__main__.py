"""Forty people at the demo season: ``python -m tests.load [--users 40] [--seconds 60] [--servers 2]``.

Starts a PostgreSQL and servers of its own on loopback, prints how soon pages came, and removes everything again.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from tests.load.users import SOON, Answers, visit
from tests.postgres import TEMPLATE, Cluster, _free_port, binaries
from tests.where import ROOT

#: Seconds for the season to be loaded, on a machine that does other things too.
LOADS_WITHIN = 1800
#: Signs the demo's user in, and says the cookie and the addresses of the main pages.
BEGIN = """
import json, django
django.setup()
from django.conf import settings
from django.test import Client
from farmbuild.orgs.addresses import prefix_of
from farmbuild.orgs.models import Membership
from tests.main_pages import main_pages
member = Membership.objects.select_related("user", "organisation").filter(user__visitor=False).earliest("pk")
client = Client()
client.force_login(member.user)
name = settings.SESSION_COOKIE_NAME
start = prefix_of(member.organisation.slug).rstrip("/")
pages = {name: start + path for name, path in main_pages().items()}
print(json.dumps({"cookie": f"{name}={client.cookies[name].value}", "pages": pages}))
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--users", type=int, default=40)
    parser.add_argument("--seconds", type=int, default=60)
    parser.add_argument("--servers", type=int, default=2)
    given = parser.parse_args()
    found = binaries()
    if not found:
        sys.exit("Needs PostgreSQL's own programs (initdb, pg_ctl, psql).")
    # Whoever ends it early leaves no server behind.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("Ended before its time."))
    cluster = Cluster(found)
    with tempfile.TemporaryDirectory() as folder:
        try:
            cluster.start()
            cluster._psql("postgres", "-c", f"CREATE DATABASE load TEMPLATE {TEMPLATE}")
            tell(*run(cluster.address("load"), Path(folder), given), given)
        finally:
            cluster.stop()


def run(database: str, folder: Path, given: argparse.Namespace) -> tuple[Answers, dict[str, str]]:
    """The season loaded, each server with every page seen once, then people."""
    env = os.environ | {
        "DATABASE_URL": database,
        "FARMBUILD_DATA": str(folder),
        "DJANGO_SETTINGS_MODULE": "farmbuild.settings",
        "PYTHONPATH": str(ROOT),
    }
    say("Loading the season …")
    demo = [sys.executable, "manage.py", "demo", "--no-serve", "--out", str(folder / "out")]
    subprocess.run(demo, cwd=ROOT, env=env, check=True, stdout=subprocess.DEVNULL, timeout=LOADS_WITHIN)
    said = subprocess.run([sys.executable, "-c", BEGIN], cwd=ROOT, env=env, check=True, stdout=subprocess.PIPE)
    begun = json.loads(said.stdout.splitlines()[-1])
    ports = [_free_port() for _ in range(given.servers)]
    servers = []
    try:
        for port in ports:
            serve = [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}", "farmbuild.wsgi:application"]
            with (folder / "log").open("ab") as log:
                servers.append(subprocess.Popen(serve, cwd=ROOT, env=env, stdout=log, stderr=log))
        for port in ports:
            _warm(port, begun)
        say(f"{given.users} people for {given.seconds} s …")
        pages = list(begun["pages"].values())
        found = visit(ports, pages, cookie=begun["cookie"], users=given.users, seconds=given.seconds)
    finally:
        for server in servers:
            server.terminate()
        for server in servers:
            server.wait()
    return found, {path: name for name, path in begun["pages"].items()}


def _warm(port: int, begun: dict) -> None:
    until = time.monotonic() + 120
    for path in begun["pages"].values():
        asked = urllib.request.Request(f"http://127.0.0.1:{port}{path}", headers={"Cookie": begun["cookie"]})
        while True:
            try:
                with urllib.request.urlopen(asked, timeout=60) as answer:
                    answer.read()
                break
            except urllib.error.URLError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.2)


def say(words: str) -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def tell(answers: Answers, names: dict[str, str], given: argparse.Namespace) -> None:
    say(f"{len(answers.seconds)} pages, {len(answers.seconds) / given.seconds:.1f} a second")
    say(f"{100 * answers.within(SOON):.0f} of 100 within {1000 * SOON:.0f} ms")
    say(", ".join(f"{percent} %: {1000 * answers.at(percent):.0f} ms" for percent in (50, 90, 95, 99)))
    for path, seconds in sorted(answers.pages.items(), key=lambda item: -sorted(item[1])[len(item[1]) // 2]):
        say(f"  {names[path]}: {1000 * sorted(seconds)[len(seconds) // 2]:.0f} ms, {len(seconds)} times")
    say(f"errors: {sum(answers.faults.values())} {answers.faults or ''}")
    say(f"load of the machine: {os.getloadavg()[0]:.1f} over {os.cpu_count()} processors")


if __name__ == "__main__":
    main()
