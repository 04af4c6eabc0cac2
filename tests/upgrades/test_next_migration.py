"""A migration that adds a column to any table changes that table by one column, and nothing else of the database."""

from __future__ import annotations

import re

from django.apps import apps
from django.db import connection, transaction
from django.db.migrations import AddField
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ProjectState
from django.db.models import PositiveIntegerField

from farmbuild.common.doctor.schema import Definitions, definitions
from tests.size import LONG
from tests.upgrades.rows import rows

ADDED = "added_by_a_test"
#: As Django writes it in the definition of a table, and what it adds to the catalogue of PostgreSQL.
IN_SQLITE = f', "{ADDED}" integer unsigned NOT NULL CHECK ("{ADDED}" >= 0)'
IN_POSTGRESQL = {"column": "integer t", "constraint": f"CHECK (({ADDED} >= 0))"}


def changes(before: Definitions, after: Definitions, table: str) -> list[str]:
    """What else is another than it was, once what the column adds is taken away."""
    after = dict(after)
    if connection.vendor == "sqlite":
        mine = ("table", table, table)
        assert IN_SQLITE in after[mine], after[mine]
        after[mine] = after[mine].replace(IN_SQLITE, "")
    else:
        new = {kind: definition for (kind, *_), definition in after.items() if ADDED in f"{_} {definition}"}
        assert {kind: text.strip() for kind, text in new.items()} == IN_POSTGRESQL
        after = {key: text for key, text in after.items() if ADDED not in f"{key} {text}"}
    return sorted(" ".join(key) for key in before.keys() | after.keys() if before.get(key) != after.get(key))


def of_each_kind(models: list[tuple[str, str]], state: ProjectState) -> list[tuple[str, str]]:
    """Of tables alike in what SQLite has beside a table and the making of it anew must keep, the last."""
    there, found = definitions(), {}
    triggers = {key: sql for key, sql in there.items() if key[0] == "trigger"}
    for model in models:
        table = state.apps.get_model(*model)._meta.db_table
        sql = there["table", table, table]
        kind = (
            any(of == table for _, of, _ in triggers),
            any(re.search(rf"\b{table}\b", text) for (_, of, _), text in triggers.items() if of != table),
            any(each == "index" and of == table for each, of, _ in there),
            *(word in sql for word in ("CONSTRAINT", " UNIQUE", " CHECK (", "AUTOINCREMENT")),
            f'REFERENCES "{table}"' in sql,
        )
        found[kind] = model
    return sorted(found.values())


def test_a_column_for_any_table_leaves_all_else_as_it_is(one_kept):
    state = MigrationLoader(None).project_state()
    ours = {config.label for config in apps.get_app_configs() if config.name.startswith("farmbuild.")}
    models = sorted(model for model in state.models if model[0] in ours)
    assert len(models) >= 70
    if connection.vendor == "sqlite" and not LONG:
        models = of_each_kind(models, state)
        assert len(models) >= 10
    adds = {model: AddField(model[1], ADDED, PositiveIntegerField(default=0)) for model in models}
    # One state with all the columns, its models made once, and after those without: fields stand in that order.
    after = state.clone()
    for (room, _), operation in adds.items():
        operation.state_forwards(room, after)
    assert state.apps.ready and after.apps.ready
    before, found = definitions(), {}
    assert connection.disable_constraint_checking() or connection.vendor == "postgresql"
    try:
        for (room, name), operation in adds.items():
            table = after.apps.get_model(room, name)._meta.db_table
            columns = rows(table)
            with transaction.atomic():
                try:
                    with connection.schema_editor() as editor:
                        operation.database_forwards(room, editor, state, after)
                    if wrong := changes(before, definitions(), table):
                        found[table] = wrong
                    assert rows(table, columns.columns) == columns
                except Exception as error:
                    found[table] = [str(error)]
                transaction.set_rollback(True)
    finally:
        connection.enable_constraint_checking()
    assert found == {}
    assert definitions() == before


def test_every_table_and_column_that_a_guard_names_is_there(kept):
    """Where a trigger names what is not there, SQLite refuses the next rename and PostgreSQL the next row."""
    with connection.cursor() as cursor:
        tables = {
            table: {column.name for column in connection.introspection.get_table_description(cursor, table)}
            for table in connection.introspection.table_names(cursor)
        }
    rooms = "|".join({table.split("_")[0] for table in tables})
    found = {key[1:]: text for key, text in definitions().items() if key[0] == "trigger"}
    assert len(found) > 60
    for (table, name), text in found.items():
        # Aliases and names of triggers begin like tables too, so only what follows a word of SQL is one.
        named = set(re.findall(rf'\b(?:FROM|JOIN|INTO|UPDATE)\s+"?((?:{rooms})_\w+)', text))
        assert named <= tables.keys(), (name, named - tables.keys())
        columns = set(re.findall(r"\b(?:NEW|OLD)\.\"?(\w+)", text))
        assert columns <= tables[table], (name, columns - tables[table])
