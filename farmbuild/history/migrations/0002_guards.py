"""Guards of the database: an entry is never changed and never deleted."""

from django.db import migrations

TABLE = "history_entry"
_WORDS = "what was changed is kept as it was told"
GUARDS = {"entry_never_edited": "UPDATE", "entry_never_deleted": "DELETE"}


def add_guards(apps, schema_editor) -> None:
    for name, moment in GUARDS.items():
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
                f" RAISE EXCEPTION '{name}: {_WORDS}' USING ERRCODE = 'check_violation'; END $$",
                params=None,
            )
            create = f"CREATE TRIGGER {name} BEFORE {moment} ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {name}()"
        else:
            create = (
                f"CREATE TRIGGER {name} BEFORE {moment} ON {TABLE} FOR EACH ROW"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {_WORDS}'); END"
            )
        schema_editor.execute(create, params=None)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name in GUARDS:
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {TABLE}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("history", "0001_entries")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
