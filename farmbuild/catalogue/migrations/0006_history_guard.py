"""What an offer said is kept as it was said."""

from django.db import migrations

NAME, TABLE, WORDS = "offer_record_never_edited", "catalogue_offerrecord", "what an offer said is kept"


def add(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE FUNCTION {NAME}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
            f" RAISE EXCEPTION '{NAME}: {WORDS}' USING ERRCODE = 'check_violation'; END $$",
            params=None,
        )
        create = f"CREATE TRIGGER {NAME} BEFORE UPDATE ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {NAME}()"
    else:
        create = (
            f"CREATE TRIGGER {NAME} BEFORE UPDATE ON {TABLE} FOR EACH ROW"
            f" BEGIN SELECT RAISE(ABORT, '{NAME}: {WORDS}'); END"
        )
    schema_editor.execute(create, params=None)


def remove(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    schema_editor.execute(f"DROP TRIGGER {NAME}{f' ON {TABLE}' if postgresql else ''}", params=None)
    if postgresql:
        schema_editor.execute(f"DROP FUNCTION {NAME}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("catalogue", "0005_unknown_lead_times_and_what_offers_said")]

    operations = [migrations.RunPython(add, remove, elidable=False)]
