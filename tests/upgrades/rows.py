"""Rows of a database as they are, whatever the models say of them now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import connection


@dataclass(frozen=True)
class Rows:
    """``found``: each row as its values are written out, and how often it is there."""

    columns: tuple[str, ...]
    found: Counter[str]


def rows_of(tables: Iterable[str]) -> dict[str, Rows]:
    return {table: rows(table) for table in tables}


def rows(table: str, columns: tuple[str, ...] = ()) -> Rows:
    """Of those columns; of all where none are given."""
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(map(quote, columns)) or '*'} FROM {quote(table)}")
        found = Counter(repr(tuple(bytes(v) if isinstance(v, memoryview) else v for v in row)) for row in cursor)
        return Rows(columns or tuple(column[0] for column in cursor.description), found)
