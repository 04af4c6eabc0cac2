"""A job bears what came out of the stock of its own organisation."""

from django.db import migrations

_NAME, _TABLE = "cost_share_for_a_job_of_its_own", "stock_costshare"
_WORDS = f"{_NAME}: a job bears what came out of its own stock"
_WRONG = (
    "NEW.job_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_movement m JOIN stock_lot l ON l.id = m.lot_id"
    " JOIN quotes_job j ON j.id = NEW.job_id WHERE m.id = NEW.movement_id AND j.organisation_id = l.organisation_id)"
)


def add_guard(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE FUNCTION {_NAME}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {_WRONG} THEN"
            f" RAISE EXCEPTION '{_WORDS}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {_NAME} BEFORE INSERT ON {_TABLE} FOR EACH ROW EXECUTE FUNCTION {_NAME}()", params=None
        )
    else:
        schema_editor.execute(
            f"CREATE TRIGGER {_NAME} BEFORE INSERT ON {_TABLE} FOR EACH ROW WHEN {_WRONG}"
            f" BEGIN SELECT RAISE(ABORT, '{_WORDS}'); END",
            params=None,
        )


def remove_guard(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    schema_editor.execute(f"DROP TRIGGER {_NAME}{f' ON {_TABLE}' if postgresql else ''}", params=None)
    if postgresql:
        schema_editor.execute(f"DROP FUNCTION {_NAME}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("stock", "0018_cost_shares_of_jobs")]

    operations = [migrations.RunPython(add_guard, remove_guard)]
