"""What a batch is bent by stays: how its sticks are joined too."""

from django.db import migrations

NAME, WORDS = "recipe_of_a_batch_stays_joined", "how a batch is joined stays"
COLUMNS = ("joint", "sleeve_material_id", "sleeve_length")


def _wrong(differs: str) -> str:
    changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in COLUMNS)
    return f"({changed}) AND EXISTS (SELECT 1 FROM hoops_hoopbatch b WHERE b.recipe_id = NEW.id)"


def add_guard(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(
            f"CREATE TRIGGER {NAME} BEFORE UPDATE ON hoops_recipe FOR EACH ROW WHEN {_wrong('IS NOT')}"
            f" BEGIN SELECT RAISE(ABORT, '{NAME}: {WORDS}'); END",
            params=None,
        )
        return
    schema_editor.execute(
        f"CREATE FUNCTION {NAME}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF ({_wrong('IS DISTINCT FROM')}) THEN"
        f" RAISE EXCEPTION '{NAME}: {WORDS}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        params=None,
    )
    schema_editor.execute(
        f"CREATE TRIGGER {NAME} BEFORE UPDATE ON hoops_recipe FOR EACH ROW EXECUTE FUNCTION {NAME}()", params=None
    )


def remove_guard(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    schema_editor.execute(f"DROP TRIGGER {NAME}{' ON hoops_recipe' if postgresql else ''}", params=None)
    if postgresql:
        schema_editor.execute(f"DROP FUNCTION {NAME}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("hoops", "0011_sleeves")]

    operations = [migrations.RunPython(add_guard, remove_guard)]
