"""The kept databases, each migrated to today once and put in the place of the default one for a test."""

from __future__ import annotations

import hashlib
import json
import lzma
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, nullcontext
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from django.contrib.contenttypes.models import ContentType
from django.core.cache import cache
from django.core.management import call_command
from django.db import connection

from farmbuild.common.doctor.schema import Definitions, definitions
from farmbuild.common.quick_migrations import quick_migrations
from tests import kept as files
from tests.kept import copy_sqlite
from tests.postgres import TEMPLATE
from tests.size import LONG
from tests.upgrades.keep import COMMITS, KEPT
from tests.upgrades.rows import Rows, rows_of


@dataclass(frozen=True)
class Kept:
    """``name``: of the database. ``rows``: of every table as they were kept. ``facts``: what ``COMMIT.json`` says."""

    commit: str
    name: str
    rows: dict[str, Rows]
    facts: dict[str, Any]


@pytest.fixture(scope="session")
def fresh_definitions(new_database, django_db_blocker) -> Definitions:
    """Of a database that was empty before it was migrated."""
    name = new_database("fresh", like=TEMPLATE)
    if connection.vendor == "sqlite":
        copy_sqlite(Path(name))
    with django_db_blocker.unblock(), default_database(name):
        return definitions()


@pytest.fixture(scope="session")
def upgraded(new_database, django_db_blocker) -> Callable[[str], Kept]:
    """What was kept of a commit, migrated to today once."""

    @lru_cache
    def upgraded(commit: str) -> Kept:
        name = new_database(f"kept_{commit}")
        dump = (KEPT / f"{commit}.{connection.vendor}.sql.xz").read_bytes()
        script = lzma.decompress(dump).decode()
        with django_db_blocker.unblock():
            with default_database(name):
                if connection.vendor == "sqlite":
                    with closing(sqlite3.connect(name)) as file:
                        file.executescript(script)
                else:
                    with connection.cursor() as cursor:
                        cursor.execute(script)
                    # The script sets what holds until the connection ends.
                    connection.close()
                rows = rows_of(connection.introspection.table_names())
            if connection.vendor == "sqlite" and not LONG:
                migrate_once(name, f"upgraded-{commit}-{hashlib.sha256(dump).hexdigest()[:8]}")
            else:
                migrate_to_today(name)
        return Kept(commit, name, rows, json.loads((KEPT / f"{commit}.json").read_text(encoding="utf-8")))

    return upgraded


def migrate_to_today(name: str) -> None:
    """In the long run as people do it."""
    with default_database(name), nullcontext() if LONG else quick_migrations():
        call_command("migrate", verbosity=0, interactive=False)


def migrate_once(name: str, kind: str) -> None:
    """As long as no migration is another one, a later run takes what came of it."""

    def make(fresh: Path, before: Path | None) -> None:
        shutil.copyfile(before or name, fresh)
        migrate_to_today(str(fresh))

    with files.kept(kind, make) as path:
        shutil.copyfile(path, name)
        migrate_to_today(name)


@pytest.fixture(scope="session")
def new_database(tmp_path_factory, django_db_blocker) -> Callable[..., str]:
    """Makes a database for this process and gives its name; ``like`` is for PostgreSQL alone."""

    def new(name: str, like: str = "template0") -> str:
        if connection.vendor == "sqlite":
            return str(tmp_path_factory.mktemp(name) / f"{name}.sqlite3")
        quote = connection.ops.quote_name
        name = f"{name}_{os.environ.get('PYTEST_XDIST_WORKER', 'alone')}"
        with django_db_blocker.unblock(), connection._nodb_cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {quote(name)} TEMPLATE {quote(like)}")
        return name

    return new


@pytest.fixture(params=COMMITS)
def kept(request, upgraded, django_db_blocker) -> Iterator[Kept]:
    """The default database is the upgraded one; what a test writes there stays."""
    found = upgraded(request.param)
    with django_db_blocker.unblock(), default_database(found.name):
        yield found


@pytest.fixture(params=COMMITS if LONG else [""])
def one_kept(request, upgraded, django_db_blocker) -> Iterator[Kept]:
    """As ``kept``, for what takes long: the oldest on SQLite and the newest on PostgreSQL, and all in the long run."""
    found = upgraded(request.param or COMMITS[0 if connection.vendor == "sqlite" else -1])
    with django_db_blocker.unblock(), default_database(found.name):
        yield found


@contextmanager
def default_database(name: str) -> Iterator[None]:
    """Connects ``default`` to the database of that name."""
    usual = connection.settings_dict["NAME"]
    _forget(name)
    try:
        yield
    finally:
        _forget(usual)


def _forget(name: str) -> None:
    connection.close()
    connection.settings_dict["NAME"] = name
    ContentType.objects.clear_cache()
    cache.clear()
