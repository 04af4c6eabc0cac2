"""Changes of SQLite tables that keep every trigger.

SQLite alters little of a table in place. Django makes it anew for the rest: a new table, the rows copied, the old one
dropped, the new one renamed. Dropping a table drops its triggers, and a rename is refused while a trigger of another
table names one that is not there (https://www.sqlite.org/lang_altertable.html#making_other_kinds_of_table_schema_changes,
steps 3 and 8). So its triggers are dropped before and created again after, in their order, and SQLite is told to rename
without looking at those of others (https://www.sqlite.org/pragma.html#pragma_legacy_alter_table). Where a column is
renamed, which others may name, all are dropped and created again.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from typing import Any

from django.db import transaction
from django.db.backends.sqlite3 import schema
from django.db.models import Field, Model

_PROBE = "farmbuild_probe"


class DatabaseSchemaEditor(schema.DatabaseSchemaEditor):
    """Renames a column in the triggers too, and removes none, and no table, that a trigger still names."""

    def _remake_table(
        self,
        model: type[Model],
        create_field: Field | None = None,
        delete_field: Field | None = None,
        alter_fields: list[tuple[Field, Field]] | None = None,
    ) -> None:
        table = model._meta.db_table
        renamed = [(old.column, new.column) for old, new in alter_fields or () if old.column != new.column]
        with transaction.atomic(self.connection.alias):
            # Triggers name the old columns: SQLite itself writes the new ones into all of them.
            alone = not renamed
            with self._others_left_alone() if alone else nullcontext():
                triggers = self._triggers(table if alone else None)
                for name in triggers:
                    self.execute(f"DROP TRIGGER {self.quote_name(name)}", params=None)
                super()._remake_table(model, create_field, delete_field, alter_fields)
                for old, new in renamed if triggers else ():
                    self._rename(table, new, old)
                for sql in triggers.values():
                    self.execute(sql, params=None)
                for old, new in renamed if triggers else ():
                    self._rename(table, old, new)
            if delete_field is not None:
                self._check_triggers()

    @contextmanager
    def _others_left_alone(self) -> Iterator[None]:
        """The rename looks at no trigger: those of other tables go on naming the table that is made anew."""
        with self.connection.cursor() as cursor:
            [before] = cursor.execute("PRAGMA legacy_alter_table").fetchone()
        self.execute("PRAGMA legacy_alter_table = ON", params=None)
        try:
            yield
        finally:
            self.execute(f"PRAGMA legacy_alter_table = {before}", params=None)

    def delete_model(self, model: type[Model], handle_autom2m: bool = True) -> None:
        """Triggers of the table go with it. Refused while one of another table names it."""
        super().delete_model(model, handle_autom2m)
        if handle_autom2m:
            self._check_triggers()

    def _triggers(self, table: str | None) -> dict[str, str]:
        """What makes each of that table, or of all, by name, oldest first."""
        asked = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ifnull(%s, tbl_name)"
        with self.connection.cursor() as cursor:
            cursor.execute(f"{asked} ORDER BY rowid", [table])
            return dict(cursor.fetchall())

    def _rename(self, table: str, old: str, new: str) -> None:
        names: dict[str, Any] = {"table": table, "old_column": old, "new_column": new}
        quoted = {key: self.quote_name(name) for key, name in names.items()}
        self.execute(self.sql_rename_column % quoted, params=None)

    def _check_triggers(self) -> None:
        """Raises OperationalError that names a trigger and what it misses: SQLite checks them all at any rename."""
        self.execute(f"CREATE TABLE {_PROBE} (id integer)", params=None)
        self.execute(f"ALTER TABLE {_PROBE} RENAME TO {_PROBE}_renamed", params=None)
        self.execute(f"DROP TABLE {_PROBE}_renamed", params=None)
