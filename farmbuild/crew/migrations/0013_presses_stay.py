"""A press is never edited, and what takes one back belongs to the same task and takes back no taking back."""

from django.db import migrations

TABLE = "crew_actual"
_OTHER = (
    "NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM crew_actual a WHERE a.id = NEW.reverses_id"
    " AND a.task_id = NEW.task_id AND a.organisation_id = NEW.organisation_id AND a.reverses_id IS NULL)"
)
#: Name: moment, what must not be, what is said then.
GUARDS = {
    "actual_never_edited": ("UPDATE", "1 = 1", "what was pressed is kept"),
    "actual_taken_back_at_its_task": ("INSERT", _OTHER, "a press is taken back at its own task, once"),
}


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (moment, wrong, words) in GUARDS.items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {TABLE} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name in GUARDS:
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {TABLE}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("crew", "0012_runs_of_earlier_presses")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
