"""Emptying SQLite tables between tests although rows of some may never be deleted."""

from __future__ import annotations

from typing import Any

from django.db import connections
from django.db.backends.sqlite3.operations import DatabaseOperations


def let_tests_empty_tables() -> None:
    """Take guards against DELETE down while Django empties the tables of a test, and put them up again."""
    plain = DatabaseOperations.sql_flush

    def sql_flush(self: DatabaseOperations, style: Any, tables: Any, **how: Any) -> list[str]:
        with connections[self.connection.alias].cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND sql LIKE '%BEFORE DELETE%'")
            guards = cursor.fetchall()
        down = [f"DROP TRIGGER {self.quote_name(name)}" for name, _ in guards]
        return [*down, *plain(self, style, tables, **how), *(sql for _, sql in guards)]

    DatabaseOperations.sql_flush = sql_flush
