"""What whoever keeps the server is told: numbered requests, lines of the log, faults of the database, health."""

from __future__ import annotations

import json
import logging
import sqlite3
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, IntegrityError, OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.utils import timezone

from farmbuild.common import database_faults, schema_version
from farmbuild.common.doctor import examining
from farmbuild.common.long_work import try_again
from farmbuild.common.own_files import keep_to_owner
from farmbuild.common.telling import health
from farmbuild.common.telling.lines import HidesAddresses, JsonLines, WithRequest
from farmbuild.plans.models import Plan
from tests.factories import LotFactory, SiteFactory

pytestmark = pytest.mark.django_db
HOUSES = "/houses/"
DAMAGED = "The database of the server cannot be read as it should be."


def fault_of(cause: Exception, kind: type[DatabaseError] = OperationalError) -> DatabaseError:
    error = kind(str(cause))
    error.__cause__ = cause
    return error


def sqlite_fault(code: int, words: str = "it failed") -> DatabaseError:
    cause = sqlite3.OperationalError(words)
    cause.sqlite_errorcode = code
    return fault_of(cause)


class Answer(Exception):
    def __init__(self, sqlstate: str | None) -> None:
        super().__init__(f"told {sqlstate}")
        self.sqlstate = sqlstate


@pytest.fixture
def lines():
    """What is written as JSON, an object a line."""
    stream = StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    handler.addFilter(HidesAddresses())
    handler.addFilter(WithRequest())
    root, ours = logging.getLogger(), logging.getLogger("farmbuild")
    before = ours.level
    root.addHandler(handler)
    ours.setLevel(logging.INFO)
    yield lambda: [json.loads(line) for line in stream.getvalue().splitlines()]
    root.removeHandler(handler)
    ours.setLevel(before)


# Faults of the database. PostgreSQL's codes: its manual, appendix A; SQLite's: sqlite.org/rescode.html.


@pytest.mark.parametrize(
    ("fault", "again", "said"),
    [
        (sqlite_fault(sqlite3.SQLITE_BUSY), True, None),
        (sqlite_fault(sqlite3.SQLITE_BUSY | (2 << 8)), True, None),
        (sqlite_fault(sqlite3.SQLITE_LOCKED), True, None),
        (sqlite_fault(sqlite3.SQLITE_FULL), False, "The disk of the server is full."),
        (sqlite_fault(sqlite3.SQLITE_READONLY), False, "The server may only read its database at the moment."),
        (sqlite_fault(sqlite3.SQLITE_CORRUPT), False, "The database of the server cannot be read as it should be."),
        (
            sqlite_fault(sqlite3.SQLITE_IOERR | (3 << 8)),
            False,
            "The database of the server cannot be read as it should be.",
        ),
        (sqlite_fault(sqlite3.SQLITE_ERROR), False, "The database of the server failed."),
        (fault_of(Answer("40P01")), True, None),
        (fault_of(Answer("40001")), True, None),
        (fault_of(Answer("55P03")), True, None),
        (fault_of(Answer("53100")), False, "The disk of the server is full."),
        (fault_of(Answer("57P01")), False, "The database of the server does not answer."),
        (fault_of(Answer("08006")), False, "The database of the server does not answer."),
        (fault_of(Answer("25006")), False, "The server may only read its database at the moment."),
        (fault_of(Answer("42P01")), False, "The database of the server failed."),
    ],
)
def test_a_lock_is_told_from_a_fault(fault, again, said):
    assert database_faults.another_was_first(fault) is again
    if said:
        assert database_faults.what_failed(fault) == said


def test_only_a_lock_says_press_once_more(signed_in, site_form, monkeypatch, lines):
    def failing(fault):
        def fails(**given):
            raise fault

        monkeypatch.setattr("farmbuild.sites.services.create_site", fails)

    failing(sqlite_fault(sqlite3.SQLITE_BUSY))
    busy = signed_in.post("/sites/new/", site_form)
    assert (busy.status_code, "press once more" in busy.content.decode()) == (503, True)
    failing(sqlite_fault(sqlite3.SQLITE_FULL, "database or disk is full"))
    full = signed_in.post("/sites/new/", site_form)
    page = full.content.decode()
    assert full.status_code == 503 and "The disk of the server is full. Nothing was stored." in page
    assert "press once more" not in page and full.headers["X-Request-ID"] in page
    [told] = [line for line in lines() if line["level"] == "error" and line["from"] == "farmbuild.common.middleware"]
    assert told["request"] == full.headers["X-Request-ID"] and "disk is full" in told["says"]
    assert told["fault"] and told["user"] and told["organisation"]
    failing(fault_of(Answer("23505"), IntegrityError))
    signed_in.raise_request_exception = False
    program = signed_in.post("/sites/new/", site_form)
    assert program.status_code == 500 and program.headers["X-Request-ID"] in program.content.decode()


@pytest.fixture
def site_form(organisation):
    SiteFactory(organisation=organisation)
    return {"name": "East Field"}


# Requests


def test_each_request_has_a_number_and_only_a_server_in_front_may_give_one(client, settings):
    first, second = (client.get("/sign-in/").headers["X-Request-ID"] for _ in range(2))
    assert first != second and len(first) == 12
    given = {"HTTP_X_REQUEST_ID": "in-front-0001"}
    assert client.get("/sign-in/", **given).headers["X-Request-ID"] != "in-front-0001"
    settings.BEHIND_PROXY = True
    assert client.get("/sign-in/", **given).headers["X-Request-ID"] == "in-front-0001"
    assert len(client.get("/sign-in/", HTTP_X_REQUEST_ID='a"\n}').headers["X-Request-ID"]) == 12


def test_slow_pages_and_what_is_not_found_are_told_without_secrets(client, signed_in, monkeypatch, lines, organisation):
    monkeypatch.setattr("farmbuild.common.telling.requests.SLOW", 0)
    signed_in.get(HOUSES)
    [slow] = [line for line in lines() if "took_ms" in line]
    assert slow["says"].startswith("Slow page: GET") and slow["organisation"] == organisation.slug
    assert slow["request"] and slow["user"] and slow["time"].endswith("+00:00")
    secret = "oXq3Zs8rT1uV5wY7aB9cD2eF4gH6iJ8kL0mN2oP4qR6"
    for address in (f"/calendar/{secret}.ics", f"/offered/{secret}/", f"/nothing/{secret}/", f"/{secret}"):
        assert client.get(address).status_code in (404, 302), address
    told = json.dumps(lines())
    assert "Not Found" in told and secret[:8] not in told
    assert "/nothing/…" in [line.get("address") for line in lines()]


def test_signing_in_is_told(client, signs_in_form, lines):
    client.post("/sign-in/", {**signs_in_form, "password": "wrong-and-long"})
    client.post("/sign-in/", signs_in_form)
    told = [(line["says"], line.get("what")) for line in lines() if line["from"] == "farmbuild.access.log"]
    assert told == [("Wrong password", "password"), ("Signed in", "in")]
    assert "wrong-and-long" not in json.dumps(lines())


@pytest.fixture
def signs_in_form(user):
    user.set_password("hoops-and-rail")
    user.save()
    return {"username": user.username, "password": "hoops-and-rail"}


# Health


def ready(host: str = "testserver"):
    answer = Client().get("/health/ready", headers={"host": host})
    return answer.status_code, answer.json()["faults"]


def test_live_and_ready_answer_to_any_name_and_without_a_sign_in(settings):
    settings.ALLOWED_HOSTS, settings.SECURE_SSL_REDIRECT = ["farm.example"], True
    assert Client().get("/health/live", headers={"host": "10.0.0.7"}).json() == {"live": True}
    assert ready("10.0.0.7") == (200, [])


def test_ready_says_what_is_wrong(organisation, monkeypatch):
    assert ready() == (200, [])
    site = SiteFactory(organisation=organisation)
    plan = Plan.objects.create(
        organisation=organisation, number=1, delivery_site=site, as_of=timezone.now().date(), inputs={}, state="waiting"
    )
    assert ready() == (200, [])
    Plan.objects.filter(pk=plan.pk).update(created_at=timezone.now() - timedelta(minutes=25))
    assert ready() == (503, ["Work has waited for 25 minutes: no worker does it."])
    Plan.objects.filter(pk=plan.pk).update(state="failed", problem="It stopped.")
    monkeypatch.setattr(health, "LEAST_FREE", 10**18)
    code, [words] = ready()
    assert code == 503 and words.endswith("MB left.")
    monkeypatch.setattr(health, "LEAST_FREE", 0)

    def gone():
        raise OperationalError("could not connect")

    monkeypatch.setattr(health, "differences", gone)
    assert ready() == (503, ["The database does not answer."])


def test_work_has_waited_too_long_from_the_quarter_of_an_hour_on(organisation, monkeypatch):
    now = timezone.now()
    Plan.objects.create(
        organisation=organisation,
        number=1,
        delivery_site=SiteFactory(organisation=organisation),
        as_of=now.date(),
        inputs={},
        state="waiting",
    )
    for created, faults in ((now - timedelta(minutes=15), 1), (now - timedelta(minutes=14, seconds=59), 0)):
        Plan.objects.update(created_at=created)
        monkeypatch.setattr(health.timezone, "now", lambda: now)
        assert len(health.faults_of_server()) == faults
    # Tried again, it waits from then on.
    Plan.objects.update(created_at=now - timedelta(days=3), state="failed", problem="It stopped.")
    try_again(Plan.objects.get())
    assert (Plan.objects.get().state, health.faults_of_server()) == ("waiting", [])


def test_code_that_is_older_or_newer_than_its_database_does_not_serve():
    assert schema_version.why_not_to_serve() == ""
    MigrationRecorder.Migration.objects.create(app="sites", name="9999_of_next_year")
    assert "belongs to a newer version" in schema_version.why_not_to_serve()
    assert ready() == (503, ["The database is of a newer version: sites 9999_of_next_year."])
    MigrationRecorder.Migration.objects.filter(app="sites", name__in=["9999_of_next_year", "0002_guards"]).delete()
    gone = MigrationRecorder.Migration.objects.filter(app="sites").latest("pk")
    gone.delete()
    why = schema_version.why_not_to_serve()
    assert f"({gone.app} {gone.name} is missing)" in why and "manage.py migrate" in why


# The doctor


def look(**found) -> tuple[str, str]:
    out = StringIO()
    try:
        call_command("doctor", stdout=out)
    except CommandError as error:
        return out.getvalue(), str(error)
    return out.getvalue(), ""


def test_a_sound_server_is_well(organisation, tmp_path, settings):
    settings.DATA_DIR = tmp_path
    if connection.vendor == "sqlite":
        keep_to_owner(tmp_path, connection.settings_dict["NAME"])
    LotFactory(material__organisation=organisation, on_hand=5)
    said, error = look()
    assert error == "" and said.endswith("All is well.\n"), said
    for part in ("Versions: Python", "Settings: ", "Files: ", "Database: ", "Guards: ", "Sums: ", "Plans: "):
        assert part in said


def test_the_doctor_finds_what_was_changed_behind_its_back(organisation, tmp_path, settings):
    settings.DATA_DIR = tmp_path
    (tmp_path / ".secret-key").write_text("open to all")
    (tmp_path / ".secret-key").chmod(0o644)
    lot = LotFactory(material__organisation=organisation, on_hand=5)
    site = SiteFactory(organisation=organisation)
    Plan.objects.create(
        organisation=organisation, number=1, delivery_site=site, as_of=timezone.now().date(),
        inputs={"a": 1}, inputs_digest="0" * 64, result={"b": 2}, result_digest="0" * 64, state="ready",
    )  # fmt: skip
    with connection.cursor() as cursor:
        ending = " ON coop_memberentry" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER member_entry_never_edited{ending}")
        for name in [name for name in examining.triggers() if "lot" in name or "movement" in name]:
            of = _table_of(cursor, name)
            cursor.execute(f"DROP TRIGGER {name}{f' ON {of}' if ending else ''}")
        cursor.execute("UPDATE stock_lot SET on_hand = 9 WHERE id = %s", [lot.pk])
    said, error = look()
    assert error.endswith("found.")
    assert "can be read by others (mode 644)" in said
    assert "The guard member_entry_never_edited (trigger at coop_memberentry) is not in the database." in said
    assert "9 on hand, 5 by its movements." in said
    assert "its inputs have another digest" in said and "its results have another digest" in said


def _table_of(cursor, trigger: str) -> str:
    if connection.vendor != "postgresql":
        return ""
    cursor.execute("SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname = %s", [trigger])
    return cursor.fetchone()[0]


def test_the_doctor_knows_the_guards_of_the_table():
    assert examining.named_guards(connection.vendor) == set(examining.triggers())
