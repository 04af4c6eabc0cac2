"""What tests ask is written down, and those that run on PostgreSQL ask all of it."""

from __future__ import annotations

import json
import random
from contextlib import suppress
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, connection, transaction

from farmbuild.catalogue.models import Material
from farmbuild.orgs.models import Organisation
from tests import asked
from tests.asked import Asked, shape, that_ask_all
from tests.factories import OrganisationFactory


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("SELECT a FROM t WHERE a IN (%s)", "SELECT a FROM t WHERE a IN (%s, %s, %s)"),
        ("INSERT INTO t (a, b) VALUES (%s, %s)", "INSERT INTO t (a, b) VALUES (%s, %s), (%s, %s), (%s, %s)"),
        ("SELECT a FROM t LIMIT 20 OFFSET 40", "SELECT a FROM t LIMIT 21 OFFSET 0"),
        ("SAVEPOINT s1_x3", "SAVEPOINT s139_x14"),
        ("SELECT 1 FROM t WHERE b = 'x'", "SELECT 1 FROM t WHERE b = 'y z'"),
        (
            "UPDATE t SET a = CASE WHEN (t.id = %s) THEN %s ELSE NULL END",
            "UPDATE t SET a = CASE WHEN (t.id = %s) THEN %s WHEN (t.id = %s) THEN %s WHEN (t.id = %s) THEN %s"
            " ELSE NULL END",
        ),
        (
            "SELECT 1 FROM t WHERE (a = %s AND b = %s)",
            "SELECT 1 FROM t WHERE (a = %s AND b = %s) OR (a = %s AND b = %s)",
        ),
    ],
)
def test_values_and_how_many_there_are_do_not_matter(one, other):
    assert shape(one) == shape(other)


@pytest.mark.parametrize(
    "other",
    [
        "SELECT a FROM t WHERE b = %s ORDER BY a",
        "SELECT a FROM t WHERE b IS NULL",
        "SELECT a1 FROM t WHERE b = %s",
        "SELECT a FROM t2 WHERE b = %s",
        "SELECT a, b FROM t WHERE b = %s",
    ],
)
def test_what_is_asked_matters(other):
    assert shape("SELECT a FROM t WHERE b = %s") != shape(other)


def written(does, passed=True) -> set[int] | None:
    """What the plugin writes of a test that does so."""
    plugin = Asked()
    running = plugin.pytest_runtest_protocol(SimpleNamespace(nodeid="a test"))
    next(running)
    does()
    plugin.pytest_runtest_logreport(SimpleNamespace(passed=passed))
    with suppress(StopIteration):
        running.send(None)
    return set(plugin.tests["a test"][1]) if plugin.tests else None


def test_a_refusal_and_a_lock_stand_apart(db):
    there = OrganisationFactory()
    rows = Organisation.objects.filter(pk=there.pk)

    def refused():
        with suppress(IntegrityError), transaction.atomic():
            Organisation.objects.bulk_create([Organisation(pk=there.pk, name=there.name)])

    read, locked = written(lambda: list(rows)), written(lambda: list(rows.select_for_update()))
    assert read < locked
    assert read == written(lambda: list(Organisation.objects.filter(pk=there.pk + 1)))
    again = written(refused)
    there.delete()
    assert again - written(refused)
    assert not connection.needs_rollback


def test_of_a_test_that_failed_nothing_is_written(db):
    assert written(lambda: list(Material.objects.all()))
    assert written(lambda: list(Material.objects.all()), passed=False) is None


def test_what_ran_is_written_over_and_the_rest_stays(tmp_path, monkeypatch):
    monkeypatch.setattr(asked, "FILE", tmp_path / "out" / "asked.json")
    assert asked.read() == {}
    for tests in ({"a": (1.0, [1]), "b": (1.0, [2])}, {"b": (2.0, [3])}, {}):
        plugin = Asked()
        plugin.tests = tests
        plugin.pytest_sessionfinish()
    assert asked.read() == {"a": [1.0, [1]], "b": [2.0, [3]]} == json.loads(asked.FILE.read_text())


@pytest.mark.parametrize("number", range(20))
def test_all_is_asked_by_those_that_run_and_none_runs_for_nothing(number):
    chance = random.Random(number)
    tests = {
        f"test {at}": (chance.random(), chance.sample(range(120), chance.randint(0, 12)))
        for at in range(chance.randint(1, 60))
    }
    always = set(chance.sample(sorted(tests), len(tests) // 6)) | {"of which nothing is written"}
    chosen = that_ask_all(tests, always)
    assert not chosen & always
    everything = {each for _, statements in tests.values() for each in statements}
    assert everything == {each for name in chosen | always & tests.keys() for each in tests[name][1]}
    assert chosen == that_ask_all(dict(reversed(tests.items())), always)


def test_the_quick_one_is_taken():
    assert that_ask_all({"slow": (9.0, [1, 2]), "quick": (0.1, [2, 1]), "other": (5.0, [3])}, ()) == {"quick", "other"}
    assert that_ask_all({"slow": (9.0, [1, 2]), "quick": (0.1, [2, 1])}, {"slow"}) == set()
