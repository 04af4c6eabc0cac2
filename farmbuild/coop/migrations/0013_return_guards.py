"""What came for pieces that were lent is posted once, of a material of the cooperative, and never edited."""

from django.db import migrations

_TABLE = "coop_pipereturn"
_COLUMNS = ("came", "material_id", "length", "came_price")


def guards(differs: str) -> dict[str, tuple[str, str, str]]:
    """Name: moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    return {
        "pipe_return_other_never_edited": (
            "UPDATE",
            " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in _COLUMNS),
            "it is posted once and taken back, never edited",
        ),
        "pipe_return_other_of_one_cooperative": (
            "INSERT",
            "NEW.material_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM catalogue_material m WHERE m.id = NEW.material_id"
            " AND m.organisation_id = NEW.organisation_id)",
            "its material is of another cooperative",
        ),
    }


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (moment, wrong, words) in guards("IS DISTINCT FROM" if postgresql else "IS NOT").items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF;"
                " RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {_TABLE} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {_TABLE} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name in guards("IS NOT"):
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {_TABLE}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("coop", "0012_returns_in_other_pieces")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
