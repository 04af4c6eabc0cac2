"""What is charged to a job as a whole keeps to the same rules as what is charged to a house."""

from django.db import migrations

_TABLES = {"paid_time": "costs_paidtime", "equipment_day": "costs_equipmentday", "trip": "costs_trip"}


def guards(differs: str) -> dict[str, tuple[str, str, str]]:
    """Name: table, what must not be on INSERT, what is said then."""
    found = {
        "equipment_day_once_a_job": (
            "costs_equipmentday",
            "NEW.reverses_id IS NULL AND NEW.job_id IS NOT NULL AND EXISTS (SELECT 1 FROM costs_equipmentday o"
            " WHERE o.equipment_id = NEW.equipment_id AND o.day = NEW.day AND o.job_id = NEW.job_id"
            " AND o.reverses_id IS NULL"
            " AND NOT EXISTS (SELECT 1 FROM costs_equipmentday r WHERE r.reverses_id = o.id))",
            "a thing is charged once a job and day",
        )
    }
    for word, table in _TABLES.items():
        found[f"{word}_taken_back_from_its_job"] = (
            table,
            f"NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {table} o WHERE o.id = NEW.reverses_id"
            f" AND NOT (o.job_id {differs} NEW.job_id))",
            "what is taken back is taken back whole, and once",
        )
        found[f"{word}_for_a_job_of_its_own"] = (
            table,
            "NEW.job_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM quotes_job j WHERE j.id = NEW.job_id"
            " AND j.organisation_id = NEW.organisation_id)",
            "it names what belongs to another organisation",
        )
    return found


def add_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        for name, (table, wrong, words) in guards("IS DISTINCT FROM").items():
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE INSERT ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        return
    for name, (table, wrong, words) in guards("IS NOT").items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE INSERT ON {table} FOR EACH ROW WHEN {wrong}"
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
    dependencies = [("costs", "0003_jobs")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
