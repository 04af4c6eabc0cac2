"""Emptying tables between tests: those alone that have rows, although rows of some may never be deleted."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.core.management.commands import flush
from django.db import connections
from django.db.backends.base.operations import BaseDatabaseOperations
from django.db.backends.sqlite3.operations import DatabaseOperations as SQLite

#: Django fills these after each migration, always alike; they stay, so that they are not filled anew after each test.
STAY = {"django_content_type", "auth_permission"}


def let_tests_empty_tables(vendor: str) -> None:
    """Take guards against DELETE down while Django empties the tables of a test, and put them up again."""
    flush.emit_post_migrate_signal = lambda *given: None
    if vendor == "sqlite":
        SQLite.sql_flush = _sqlite
    else:
        from django.db.backends.postgresql.operations import DatabaseOperations

        DatabaseOperations.sql_flush = _postgresql


def filled(ops: BaseDatabaseOperations, tables: Iterable[str]) -> list[str]:
    """Of the tables, those to be emptied."""
    quote = ops.quote_name
    asked = [
        f"SELECT '{table}' WHERE EXISTS (SELECT 1 FROM {quote(table)})" for table in sorted(tables) if table not in STAY
    ]
    with connections[ops.connection.alias].cursor() as cursor:
        found = []
        # SQLite joins no more than 500 at a time, and takes long over so many.
        for start in range(0, len(asked), 50):
            cursor.execute(" UNION ALL ".join(asked[start : start + 50]))
            found += [table for (table,) in cursor.fetchall()]
    return found


def _emptied(ops: BaseDatabaseOperations, tables: Iterable[str]) -> list[str]:
    return [f"DELETE FROM {ops.quote_name(table)}" for table in tables]


def _sqlite(self: SQLite, style: Any, tables: Iterable[str], **how: Any) -> list[str]:
    found = filled(self, tables)
    with connections[self.connection.alias].cursor() as cursor:
        cursor.execute(
            "SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger' AND sql LIKE '%BEFORE DELETE%'"
        )
        guards = [(name, sql) for name, table, sql in cursor.fetchall() if table in found]
    down = [f"DROP TRIGGER {self.quote_name(name)}" for name, _ in guards]
    return [*down, *_emptied(self, found), *(sql for _, sql in guards)]


def _postgresql(self: BaseDatabaseOperations, style: Any, tables: Iterable[str], **how: Any) -> list[str]:
    """TRUNCATE would write every table and index anew, hundreds of files. Triggers and keys rest meanwhile."""
    return ["SET LOCAL session_replication_role = replica", *_emptied(self, filled(self, tables))]
