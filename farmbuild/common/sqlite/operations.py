"""Rows of one INSERT, and decimals as they are read."""

from __future__ import annotations

import decimal
import sqlite3
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from django.db.backends.sqlite3 import operations
from django.db.models import Field
from django.db.models.expressions import Col


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

    def get_decimalfield_converter(self, expression: Any) -> Callable[..., decimal.Decimal | None]:
        """Django makes two contexts for each column of each query; a house has dozens of columns."""
        if not isinstance(expression, Col):
            return super().get_decimalfield_converter(expression)
        return _converter(expression.output_field.max_digits, expression.output_field.decimal_places)


@cache
def _converter(digits: int, places: int) -> Callable[..., decimal.Decimal | None]:
    """As Django's: SQLite stores 15 significant digits, and what a float adds to them is taken off."""
    read = decimal.Context(prec=15).create_decimal_from_float
    quantum, context = decimal.Decimal(1).scaleb(-places), decimal.Context(prec=digits)

    def convert(value: float | None, expression: Any, connection: Any) -> decimal.Decimal | None:
        return None if value is None else read(value).quantize(quantum, context=context)

    return convert
