"""What somebody bears of an adjustment stays."""

from django.db import migrations

_NAME, _TABLE = "adjustment_share_never_edited", "buying_adjustmentshare"
_WORDS = f"{_NAME}: what was borne of an adjustment is kept"


def add_guard(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE FUNCTION {_NAME}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
            f" RAISE EXCEPTION '{_WORDS}' USING ERRCODE = 'check_violation'; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {_NAME} BEFORE UPDATE ON {_TABLE} FOR EACH ROW EXECUTE FUNCTION {_NAME}()", params=None
        )
    else:
        schema_editor.execute(
            f"CREATE TRIGGER {_NAME} BEFORE UPDATE ON {_TABLE} FOR EACH ROW BEGIN SELECT RAISE(ABORT, '{_WORDS}'); END",
            params=None,
        )


def remove_guard(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    schema_editor.execute(f"DROP TRIGGER {_NAME}{f' ON {_TABLE}' if postgresql else ''}", params=None)
    if postgresql:
        schema_editor.execute(f"DROP FUNCTION {_NAME}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("buying", "0016_adjustment_shares")]

    operations = [migrations.RunPython(add_guard, remove_guard)]
