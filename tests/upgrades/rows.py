"""Rows of a database as they are, whatever the models say of them now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import connection

#: Columns that a migration took away because nothing needs them any more, took to another table, or numbered anew.
DROPPED = {
    "sites_house": {"version"},
    "crew_crewsettings": {"time_zone"},
    "crew_workstep": {"position"},
    # What the yard gives is looked for anew, with crews and benders.
    "plans_plansavings": {"without_buying"},
}


@dataclass(frozen=True)
class Rows:
    """``found``: each row as its values are written out, and how often it is there."""

    columns: tuple[str, ...]
    found: Counter[str]


def rows_of(tables: Iterable[str]) -> dict[str, Rows]:
    return {table: rows(table) for table in tables}


def rows(table: str, columns: tuple[str, ...] = ()) -> Rows:
    """Of those columns; where none are given, of all that no later migration drops."""
    quote = connection.ops.quote_name
    with connection.cursor() as cursor:
        if not columns:
            there = connection.introspection.get_table_description(cursor, table)
            columns = tuple(column.name for column in there if column.name not in DROPPED.get(table, ()))
        cursor.execute(f"SELECT {', '.join(map(quote, columns))} FROM {quote(table)}")
        found = Counter(repr(tuple(bytes(v) if isinstance(v, memoryview) else v for v in row)) for row in cursor)
        return Rows(columns, found)
