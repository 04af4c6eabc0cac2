"""Triggers of some tables, taken down while whole seasons of rows go."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def guards_down(tables: Collection[str]) -> Iterator[None]:
    """Inside, rows that are never deleted can be. In one transaction: what fails leaves rows and guards as they were.

    References are checked once at the end, so rows go in any order; raises IntegrityError where something refers to
    a row that went. Others who write to the tables wait until then.
    """
    down = _postgresql if connection.vendor == "postgresql" else _sqlite
    with transaction.atomic(), down(tables):
        yield


@contextmanager
def _sqlite(tables: Collection[str]) -> Iterator[None]:
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY rowid")
        triggers = [(name, sql) for name, table, sql in cursor.fetchall() if table in tables]
        for name, _ in triggers:
            cursor.execute(f"DROP TRIGGER {quote(name)}")
        yield
        for _, sql in triggers:
            cursor.execute(sql)


@contextmanager
def _postgresql(tables: Collection[str]) -> Iterator[None]:
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.execute("SELECT DISTINCT tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal")
        guarded = sorted({name.strip('"') for (name,) in cursor.fetchall()} & set(tables))
        # A table with checks that still wait cannot be altered.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in guarded:
            cursor.execute(f"ALTER TABLE {quote(table)} DISABLE TRIGGER USER")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        yield
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for table in guarded:
            cursor.execute(f"ALTER TABLE {quote(table)} ENABLE TRIGGER USER")
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")


def as_made() -> list[tuple[str, ...]]:
    """Every trigger as it was made, and whether it is on: the same before and after ``guards_down``."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT tgrelid::regclass::text, tgname, tgenabled::text, pg_get_triggerdef(t.oid), prosrc"
                " FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid WHERE NOT tgisinternal"
            )
        else:
            cursor.execute("SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger'")
        return sorted(cursor.fetchall())
