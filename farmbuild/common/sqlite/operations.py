"""Rows of one INSERT."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any

from django.db.backends.sqlite3 import operations
from django.db.models import Field


class DatabaseOperations(operations.DatabaseOperations):
    """Django counts on 999 variables a statement, the limit of SQLite before 3.32: 16 houses. An INSERT may have as
    many as this SQLite takes (https://www.sqlite.org/limits.html#max_variable_number); updates keep Django's batches,
    which grow with the square of their rows."""

    MAX_VARIABLES = 32_766

    def bulk_batch_size(self, fields: Sequence[Any], objs: Sequence[Any]) -> int:
        if not fields or not all(isinstance(field, Field) for field in fields):
            return super().bulk_batch_size(fields, objs)
        self.connection.ensure_connection()
        there = self.connection.connection.getlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER)
        return max(1, min(there, self.MAX_VARIABLES) // len(fields))
