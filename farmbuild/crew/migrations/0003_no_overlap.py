"""No two bookings of a bender that count overlap, and no row joins two organisations.

PostgreSQL: an exclusion constraint; the bender is a range of one number, so that no extension is needed. SQLite has
one writer at a time, so a trigger that looks before each write is as sure.
"""

from django.db import migrations

TABLE = "crew_benderbooking"
COUNTS = "('booked', 'out')"
NAME = "booking_no_overlap"
WORDS = "a bender is booked once a day"
OWNERS = (
    "NOT EXISTS (SELECT 1 FROM hoops_bender b WHERE b.id = NEW.bender_id AND b.organisation_id = NEW.organisation_id)"
    " OR (NEW.member_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM crew_member m"
    " WHERE m.id = NEW.member_id AND m.organisation_id = NEW.organisation_id))"
)
OWNER_NAME, OWNER_WORDS = "booking_of_one_owner", "a booking stays within its organisation"


def _sqlite(editor) -> None:
    overlap = (
        f"NEW.state IN {COUNTS} AND EXISTS (SELECT 1 FROM {TABLE} b WHERE b.bender_id = NEW.bender_id"
        f" AND b.id IS NOT NEW.id AND b.state IN {COUNTS} AND b.first <= NEW.last AND b.last >= NEW.first)"
    )
    for name, wrong, words in ((NAME, overlap, WORDS), (OWNER_NAME, OWNERS, OWNER_WORDS)):
        for moment in ("INSERT", "UPDATE"):
            editor.execute(
                f"CREATE TRIGGER {name}_{moment.lower()} BEFORE {moment} ON {TABLE} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def _postgresql(editor) -> None:
    editor.execute(
        f"ALTER TABLE {TABLE} ADD CONSTRAINT {NAME} EXCLUDE USING gist"
        " (int8range(bender_id, bender_id, '[]') WITH &&, daterange(first, last, '[]') WITH &&)"
        f" WHERE (state IN {COUNTS})",
        params=None,
    )
    editor.execute(
        f"CREATE FUNCTION {OWNER_NAME}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {OWNERS} THEN"
        f" RAISE EXCEPTION '{OWNER_NAME}: {OWNER_WORDS}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        params=None,
    )
    editor.execute(
        f"CREATE TRIGGER {OWNER_NAME} BEFORE INSERT OR UPDATE ON {TABLE} FOR EACH ROW EXECUTE FUNCTION {OWNER_NAME}()",
        params=None,
    )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(f"ALTER TABLE {TABLE} DROP CONSTRAINT {NAME}", params=None)
        schema_editor.execute(f"DROP TRIGGER {OWNER_NAME} ON {TABLE}", params=None)
        schema_editor.execute(f"DROP FUNCTION {OWNER_NAME}()", params=None)
        return
    for name in (NAME, OWNER_NAME):
        for moment in ("insert", "update"):
            schema_editor.execute(f"DROP TRIGGER {name}_{moment}", params=None)


class Migration(migrations.Migration):
    dependencies = [("crew", "0002_calendar_feeds"), ("hoops", "0003_guards")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
