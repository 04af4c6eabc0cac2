"""Entries of members' accounts are kept as they were posted, of one organisation, and taken back by their opposite."""

from django.db import migrations

_COLUMNS = ("organisation_id", "member_id", "day", "kind", "source")


def guards(differs: str) -> dict[str, tuple[str, str, str]]:
    """Name: moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    same = " AND ".join(f"NOT (o.{name} {differs} NEW.{name})" for name in _COLUMNS)
    return {
        "member_entry_never_edited": ("UPDATE", "1 = 1", "an entry is kept; take it back"),
        "member_entry_never_deleted": ("DELETE", "1 = 1", "an entry is kept; take it back"),
        "member_entry_taken_back_by_its_opposite": (
            "INSERT",
            "NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM coop_memberentry o WHERE o.id = NEW.reverses_id"
            f" AND o.reverses_id IS NULL AND o.amount = -NEW.amount AND {same})",
            "an entry is taken back whole, and once",
        ),
        "member_entry_of_one_organisation": (
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM crew_member m WHERE m.id = NEW.member_id"
            " AND m.organisation_id = NEW.organisation_id)",
            "it names a member of another organisation",
        ),
    }


def add_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        for name, (moment, wrong, words) in guards("IS DISTINCT FROM").items():
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON coop_memberentry FOR EACH ROW EXECUTE FUNCTION {name}()",
                params=None,
            )
        return
    for name, (moment, wrong, words) in guards("IS NOT").items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON coop_memberentry FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name in guards("IS NOT"):
        schema_editor.execute(f"DROP TRIGGER {name}{' ON coop_memberentry' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("coop", "0001_entries")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
