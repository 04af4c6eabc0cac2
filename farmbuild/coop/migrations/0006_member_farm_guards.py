"""That a member is a farm stays as it was made, of one cooperative, and ends once."""

from django.db import migrations

_TABLE = "coop_memberfarm"
_STAYS = ("organisation_id", "member_id", "farm_id", "made_at")
#: Name: moment, what must not be, what is said then.
GUARDS = {
    "member_farm_ends_once": (
        "UPDATE",
        " OR ".join(f"NEW.{name} <> OLD.{name}" for name in _STAYS)
        + " OR OLD.ended_at IS NOT NULL OR NEW.ended_at IS NULL",
        "that a member is a farm ends once and stays as it was made",
    ),
    "member_farm_never_deleted": ("DELETE", "1 = 1", "that a member was a farm is kept"),
    "member_farm_of_its_cooperative": (
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM crew_member m WHERE m.id = NEW.member_id"
        " AND m.organisation_id = NEW.organisation_id)",
        "it names a member of another cooperative",
    ),
}


def add_guards(apps, schema_editor) -> None:
    for name, (moment, wrong, words) in GUARDS.items():
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF;"
                f" RETURN {'OLD' if moment == 'DELETE' else 'NEW'}; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {_TABLE} FOR EACH ROW EXECUTE FUNCTION {name}()",
                params=None,
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {_TABLE} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name in GUARDS:
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {_TABLE}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("coop", "0005_member_farms")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
