"""What a database holds, as figures that two copies of it share: rows and their sum by table, and every guard."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterable
from typing import Any

#: Rows are added up in this field, so that their order does not matter.
FIELD = 1 << 128


def sum_of(values: Iterable[str]) -> str:
    """Of texts in any order."""
    return f"{sum(map(part_of_sum, values)) % FIELD:032x}"


def part_of_sum(value: str) -> int:
    """What one text adds to it."""
    return int.from_bytes(hashlib.sha256(value.encode()).digest()[:16])


def of_sqlite(database: sqlite3.Connection) -> dict[str, Any]:
    """``tables``: name to [rows, sum]; ``guards``: the sum of all triggers, indexes and tables as they were made."""
    made = database.execute("SELECT name, type, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'")
    things = made.fetchall()
    tables = {}
    for table in sorted(name for name, kind, _ in things if kind == "table"):
        rows = database.execute(f'SELECT * FROM "{table}"')
        number = 0

        def counted(rows: Iterable[tuple] = rows) -> Iterable[str]:
            nonlocal number
            for row in rows:
                number += 1
                yield repr(row)

        added = sum_of(counted())
        tables[table] = [number, added]
    return {"tables": tables, "guards": sum_of(f"{kind} {name} {sql}" for name, kind, sql in things)}


def of_postgresql(cursor: Any) -> dict[str, Any]:
    """The same of a PostgreSQL database, as the cursor's transaction sees it; added up by the server."""
    for setting in ("TimeZone = 'UTC'", "DateStyle = 'ISO'", "bytea_output = 'hex'", "extra_float_digits = 1"):
        cursor.execute(f"SET LOCAL {setting}")
    cursor.execute("SELECT relname FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace")
    tables = {}
    for (table,) in sorted(cursor.fetchall()):
        cursor.execute(
            "SELECT count(*), coalesce(sum(('x' || left(md5(t::text), 15))::bit(60)::bigint::numeric), 0)"
            f' FROM "{table}" t'
        )
        number, added = cursor.fetchone()
        tables[table] = [number, str(added)]
    cursor.execute(
        "SELECT 'trigger', tgrelid::regclass::text, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal"
        " UNION ALL SELECT 'constraint', conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint"
        " WHERE connamespace = 'public'::regnamespace"
        " UNION ALL SELECT 'index', tablename, indexdef FROM pg_indexes WHERE schemaname = 'public'"
        " UNION ALL SELECT 'function', proname, prosrc FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
    )
    return {"tables": tables, "guards": sum_of(" ".join(row) for row in cursor.fetchall())}


def differences(kept: dict[str, Any], found: dict[str, Any]) -> list[str]:
    """In words, by table; empty where both hold the same."""
    told = []
    for table in sorted(kept["tables"].keys() | found["tables"].keys()):
        one, other = kept["tables"].get(table), found["tables"].get(table)
        if one == other:
            continue
        if one is None or other is None:
            told.append(f"{table} is {'new' if one is None else 'missing'}")
        elif one[0] != other[0]:
            told.append(f"{table} has {other[0]} rows instead of {one[0]}")
        else:
            told.append(f"{table} has other values in its {one[0]} rows")
    if kept["guards"] != found["guards"]:
        told.append("triggers, indexes or constraints are others")
    return told
