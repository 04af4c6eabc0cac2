"""Measured hoops and services of a bender stay as written down, of one organisation, and are taken back once."""

from django.db import migrations

_STAYS = {
    "hoops_measuredhoop": ("member_id", "booking_id", "tube_id", "free_span", "rise", "pipe", "radius"),
    "hoops_servicerecord": ("done", "who", "parts", "cost", "pulls"),
}
_NAMES = {"hoops_measuredhoop": "measured_hoop", "hoops_servicerecord": "service"}
#: What a row may name: its column, the table, and whether it is the same bender too.
_OF = {
    "bender_id": ("hoops_bender", ""),
    "tube_id": ("catalogue_material", ""),
    "member_id": ("crew_member", ""),
    "booking_id": ("crew_benderbooking", " AND o.bender_id = NEW.bender_id"),
}


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    found = {}
    for table, columns in _STAYS.items():
        stays = ("organisation_id", "bender_id", "day", *columns)
        changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in stays)
        found[f"{_NAMES[table]}_never_edited"] = (
            table,
            "UPDATE",
            f"OLD.removed_at IS NOT NULL OR NEW.removed_at IS NULL OR {changed}",
            "it stays as it was written down or is taken back",
        )
        others = " OR ".join(
            f"(NEW.{column} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {other} o WHERE o.id = NEW.{column}"
            f" AND o.organisation_id = NEW.organisation_id{more}))"
            for column, (other, more) in _OF.items()
            if column in ("bender_id", *columns)
        )
        found[f"{_NAMES[table]}_of_one_organisation"] = (
            table,
            "INSERT",
            others,
            "it names what is not of its organisation or bender",
        )
    return found


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM" if postgresql else "IS NOT").items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in guards("IS NOT").items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("hoops", "0014_ageing_of_benders")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
