"""What a database says of itself: the definition of all that is in it, and the guards of our tables as lines to read.

A guard is a trigger, a check, a unique or an exclusion constraint. One that was given a name is told by it, any other
by its columns, so that both databases say the same of it. Foreign keys and plain indexes are in ``definitions`` alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from django.apps import apps
from django.db import connection

Definitions = dict[tuple[str, str, str], str]
ROOMS = tuple(f"{config.label}_" for config in apps.get_app_configs() if config.name.startswith("farmbuild."))

_OF_POSTGRESQL = {
    "column": """
        SELECT c.relname, a.attname, concat_ws(' ', format_type(a.atttypid, a.atttypmod), a.attnotnull, a.attidentity,
            pg_get_expr(d.adbin, d.adrelid))
        FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
            LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
        WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace AND a.attnum > 0 AND NOT a.attisdropped""",
    "constraint": """
        SELECT c.relname, k.conname, pg_get_constraintdef(k.oid)
        FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
        WHERE c.relnamespace = 'public'::regnamespace""",
    "index": "SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'",
    "trigger": """
        SELECT c.relname, t.tgname, concat_ws(' ', pg_get_triggerdef(t.oid), t.tgenabled, p.prosrc)
        FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
        WHERE NOT t.tgisinternal""",
}


def definitions() -> Definitions:
    """By kind, table and name. On SQLite the columns and constraints of a table are in its one definition."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT type, tbl_name, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            return {(kind, table, name): sql for kind, table, name, sql in cursor.fetchall()}
        found = {}
        for kind, query in _OF_POSTGRESQL.items():
            cursor.execute(query)
            found |= {(kind, table, name): _plain(sql) for table, name, sql in cursor.fetchall()}
        return found


def _plain(sql: str) -> str:
    """Without casts and brackets of lists of texts, which a dump writes in other places than it read them."""
    return re.sub(r"[()]|::(character varying|text)(\[\])?", "", sql) if "ARRAY[" in sql else sql


def guards() -> set[str]:
    """Lines as in ``guards.txt``, without the name of the database."""
    found = _of_sqlite() if connection.vendor == "sqlite" else _of_postgresql()
    return {line for line in found if line.startswith(ROOMS)}


def _of_postgresql() -> Iterator[str]:
    named = _named()
    query = """
        SELECT c.relname, k.conname, k.contype,
            (SELECT string_agg(a.attname, ', ' ORDER BY array_position(k.conkey, a.attnum)) FROM pg_attribute a
             WHERE a.attrelid = c.oid AND a.attnum = ANY (k.conkey))
        FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid WHERE k.contype IN ('c', 'u', 'x')
        UNION ALL
        SELECT c.relname, i.relname, 'u', '' FROM pg_index x JOIN pg_class i ON i.oid = x.indexrelid
            JOIN pg_class c ON c.oid = x.indrelid
        WHERE x.indisunique AND NOT EXISTS (SELECT 1 FROM pg_constraint k WHERE k.conindid = x.indexrelid)
            AND c.relnamespace = 'public'::regnamespace"""
    with connection.cursor() as cursor:
        cursor.execute(query)
        for table, name, kind, columns in cursor.fetchall():
            kind = {"c": "check", "u": "unique", "x": "exclusion"}[kind]
            yield f"{table} {kind} {name if name in named or kind == 'exclusion' else f'of {columns}'}"
    yield from _triggers()


def _of_sqlite() -> Iterator[str]:
    named = _named()
    for (kind, table, name), sql in definitions().items():
        if kind == "table":
            yield from _inside(table, sql)
        elif kind == "index" and sql.startswith("CREATE UNIQUE"):
            columns = ", ".join(re.findall(r'"(\w+)"', sql.partition("(")[2]))
            yield f"{table} unique {name if name in named else f'of {columns}'}"
    yield from _triggers()


def _inside(table: str, sql: str) -> Iterator[str]:
    """What CREATE TABLE says of the table: each column, and each constraint that has a name."""
    for part in _parts(sql[sql.index("(") + 1 : sql.rindex(")")]):
        kind = "check" if " CHECK (" in part else "unique"
        if part.startswith("CONSTRAINT"):
            yield f"{table} {kind} {part.split()[1].strip(chr(34))}"
            continue
        column = part.split()[0].strip('"')
        if " UNIQUE" in part:
            yield f"{table} unique of {column}"
        if kind == "check":
            yield f"{table} check of {column}"


def _parts(inside: str) -> Iterator[str]:
    """Between the commas that are in no brackets and in no text."""
    depth, text, start = 0, False, 0
    for place, letter in enumerate(inside):
        text ^= letter == "'"
        depth += (letter == "(") - (letter == ")") if not text else 0
        if letter == "," and not depth and not text:
            yield inside[start:place].strip()
            start = place + 1
    yield inside[start:].strip()


def _triggers() -> Iterator[str]:
    yield from (f"{table} trigger {name}" for kind, table, name in definitions() if kind == "trigger")


def _named() -> set[str]:
    return {each.name for model in apps.get_models() for each in model._meta.constraints}
