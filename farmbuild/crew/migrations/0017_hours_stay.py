"""Corrections and approvals of hours are never edited and belong to work of the same organisation.

Other work is taken back once and stays as it was written down.
"""

from django.db import migrations

_RUN = (
    "NOT EXISTS (SELECT 1 FROM crew_actual a WHERE a.id = NEW.actual_id AND a.organisation_id = NEW.organisation_id"
    " AND a.stopped_at IS NOT NULL)"
)
_WORK = (
    "NOT EXISTS (SELECT 1 FROM crew_otherwork w WHERE w.id = NEW.other_id AND w.organisation_id = NEW.organisation_id)"
)
_OTHERS = (
    "NEW.correction_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM crew_hourcorrection c"
    " WHERE c.id = NEW.correction_id AND c.actual_id = NEW.actual_id)"
)
_STAYS = ("organisation_id", "house_id", "what", "day", "minutes", "people")
_CHANGED = " OR ".join(f"NEW.{name} <> OLD.{name}" for name in _STAYS)
#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    "hour_correction_of_a_run": ("crew_hourcorrection", "INSERT", _RUN, "hours that are corrected are of a run"),
    "hour_correction_never_edited": ("crew_hourcorrection", "UPDATE", "1 = 1", "a correction of hours is kept"),
    "hour_approval_of_a_run": (
        "crew_hourapproval",
        "INSERT",
        f"(NEW.actual_id IS NOT NULL AND {_RUN}) OR (NEW.other_id IS NOT NULL AND {_WORK}) OR ({_OTHERS})",
        "hours that are approved are of a run as its own correction left it",
    ),
    "hour_approval_never_edited": ("crew_hourapproval", "UPDATE", "1 = 1", "an approval of hours is kept"),
    "other_work_never_edited": (
        "crew_otherwork",
        "UPDATE",
        f"OLD.removed_at IS NOT NULL OR NEW.removed_at IS NULL OR {_CHANGED}",
        "other work stays as it was written down or is taken back",
    ),
}


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in GUARDS.items():
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
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("crew", "0016_hours_of_earlier_runs")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
