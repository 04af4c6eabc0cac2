"""What the page for whoever keeps a server says, done line by line on loopback: nginx with https, units, a copy."""

from __future__ import annotations

import http.client
import json
import os
import re
import shutil
import signal
import sqlite3
import ssl
import subprocess
from contextlib import closing
from secrets import token_hex
from urllib.parse import urlencode

import psycopg
import pytest

from tests.deployment.machine import HOST, Machine, listens, nginx_is_there
from tests.kept import copy_sqlite
from tests.postgres import TEMPLATE, Cluster, binaries
from tests.size import LONG
from tests.waiting import until

pytestmark = pytest.mark.skipif(
    not nginx_is_there() and not os.environ.get("FARMBUILD_REQUIRE_ALL"), reason="needs nginx"
)


@pytest.fixture(scope="module")
def cluster():
    found = Cluster(binaries())
    found.start()
    yield found
    found.stop()


@pytest.fixture(params=["sqlite", "postgresql"] if LONG else ["sqlite"])
def machine(request, tmp_path):
    """With its database as an earlier ``manage.py migrate`` left it; in the long run with PostgreSQL too."""
    if request.param == "sqlite":
        file = tmp_path / "farm.sqlite3"
        copy_sqlite(file)
        found = Machine(tmp_path, f"sqlite:///{file}")
    else:
        cluster, name = request.getfixturevalue("cluster"), f"farm_{token_hex(4)}"
        cluster._psql("postgres", "-c", f"CREATE DATABASE {name} TEMPLATE {TEMPLATE}")
        found = Machine(tmp_path, cluster.address(name))
    yield found
    found.stop()


def of_the_database(machine: Machine, sql: str) -> list[tuple]:
    """What it answers, and what it keeps of it."""
    if machine.database.startswith("sqlite:"):
        line = sqlite3.connect(machine.database.removeprefix("sqlite:///"))
    else:
        line = psycopg.connect(machine.database)
    with closing(line), line:
        found = line.execute(sql)
        return found.fetchall() if found.description else []


FORM = {"Content_Type": "application/x-www-form-urlencoded"}


class Browser:
    """Comes from an address of its own and trusts nothing but the certificate of the machine."""

    def __init__(self, machine: Machine) -> None:
        self.machine, self.cookies = machine, {}
        self.context = ssl.create_default_context(cafile=str(machine.certificate))
        self.context.check_hostname = False

    def ask(self, method: str, path: str, body: bytes | None = None, *, https: bool = True, **headers: str):
        at, from_ = ("127.0.0.1", self.machine.https if https else self.machine.http), ("127.0.0.2", 0)
        if https:
            line = http.client.HTTPSConnection(*at, context=self.context, source_address=from_, timeout=30)
        else:
            line = http.client.HTTPConnection(*at, source_address=from_, timeout=30)
        with closing(line):
            given = {"Host": HOST, "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
            line.request(method, path, body, given | {name.replace("_", "-"): value for name, value in headers.items()})
            answer = line.getresponse()
            answer.text = answer.read().decode()
        for set_ in answer.headers.get_all("Set-Cookie") or []:
            name, value = set_.split(";")[0].split("=", 1)
            self.cookies[name] = value
            assert "Secure" in set_ or "Max-Age=0" in set_
        return answer

    def send(self, path: str, typed: dict[str, str], **headers: str):
        """As the form of that page."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.ask("GET", path).text)[1]
        body = urlencode({"csrfmiddlewaretoken": token} | typed).encode()
        return self.ask("POST", path, body, **FORM, Referer=f"https://{HOST}{path}", **headers)


def test_it_is_set_up_by_the_written_files_and_answers_behind_nginx(machine):
    told = machine.manage("start")
    code = re.search(rf"Open https://{HOST}/ and give this set-up code: (\S+)", told.stdout)[1]
    [web] = machine.commands("farmbuild-web.service")
    page = machine.start(web, "web.log")
    machine.start_web_server()
    until(lambda: listens(machine.port), 60)
    browser = Browser(machine)
    # Nobody stays on http, and https leads nowhere else.
    plain = browser.ask("GET", "/sign-in/", https=False)
    assert (plain.status, plain.headers["Location"]) == (301, f"https://{HOST}/sign-in/")
    assert browser.ask("GET", "/sign-in/").headers["Location"] == "/set-up/"
    first = {"organisation": "Alder Farm", "country": "US", "name": "Odile", "username": "odile", "code": code}
    made = browser.send("/set-up/", first | {"password": "hoops-and-rail"})
    assert (made.status, made.headers["Location"]) == (302, "/sites/new/")
    assert browser.ask("GET", "/of/alder-farm/sites/new/").status == 200
    browser.cookies.clear()
    form = browser.ask("GET", "/sign-in/")
    assert form.status == 200 and form.headers["Strict-Transport-Security"] == "max-age=31536000"
    assert "__Host-csrf" in browser.cookies
    assert browser.ask("GET", "/static/farmbuild/look.css").status == 200
    assert browser.ask("GET", "/houses/").headers["Location"].startswith("/sign-in/")
    # Who asks is known by the address that nginx saw, whatever the browser says of it.
    wrong = {"username": "odile", "password": "wrong-and-long"}
    tried = browser.send("/sign-in/", wrong, X_Forwarded_For="9.9.9.9", X_Request_ID="made-up-000001")
    assert tried.status == 200 and len(tried.headers["X-Request-ID"]) == 32
    tries = of_the_database(machine, "SELECT CAST(ip_address AS VARCHAR(40)) FROM axes_accessattempt")
    assert [address.partition("/")[0] for (address,) in tries] == ["127.0.0.2"]
    # What is too large is refused in words, whether or not it says how large it is.
    large = browser.ask("POST", "/sign-in/", b"x" * 2_000_000, **FORM)
    assert large.status == 413 and "at most 1 MB" in large.text
    assert browser.ask("POST", "/sign-in/", b"", Content_Length="99000000", **FORM).status == 413
    ready = browser.ask("GET", "/health/ready")
    assert (ready.status, json.loads(ready.text)) == (200, {"ready": True, "faults": []})
    page.send_signal(signal.SIGTERM)
    page.wait(15)
    lines = [json.loads(line) for line in machine.said("web.log").splitlines() if line.startswith("{")]
    assert all(line["time"] and line["level"] and line["from"] and line["says"] for line in lines)
    assert "wrong-and-long" not in machine.said("web.log")


def test_the_nightly_lines_run_one_after_the_other(machine):
    for command in machine.commands("farmbuild-nightly.service"):
        done = machine.run(*command)
        assert done.returncode == 0, done.stdout + done.stderr
    assert "All is well." in done.stdout
    assert len([*(machine.folder / "data" / "copies").iterdir()]) == 1


def test_code_of_last_year_does_not_serve_the_database_of_this_one(machine):
    later = "INSERT INTO django_migrations (app, name, applied) VALUES ('sites', '9999_later', '2030-01-01')"
    of_the_database(machine, later)
    for command in (*machine.commands("farmbuild-web.service"), *machine.commands("farmbuild-worker.service")):
        done = machine.run(*command)
        assert done.returncode == 1 and "belongs to a newer version" in done.stderr, done.stderr


def test_the_units_are_such_as_systemd_reads(machine):
    if not shutil.which("systemd-analyze"):
        pytest.skip("needs systemd-analyze")
    units = [str(machine.folder / "etc" / name) for name in machine.files if name.endswith((".service", ".timer"))]
    done = subprocess.run(["systemd-analyze", "verify", *units], capture_output=True, text=True, check=False)
    # A user and a program that are not on this machine are no fault of the units.
    wrong = [line for line in done.stderr.splitlines() if re.search(r"Unknown|Invalid|Failed to parse|syntax", line)]
    assert wrong == []


def test_no_file_is_written_over_and_no_odd_host_taken(tmp_path, capsys):
    from django.core.management import CommandError, call_command

    call_command("deployment", str(tmp_path), host=HOST)
    with pytest.raises(CommandError, match="is there already"):
        call_command("deployment", str(tmp_path), host=HOST)
    with pytest.raises(CommandError, match="no name of a host"):
        call_command("deployment", str(tmp_path / "other"), host="a;}b")
