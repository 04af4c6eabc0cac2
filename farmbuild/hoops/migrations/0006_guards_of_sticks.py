"""A trial hoop is bent of sticks that are there: fresh ones that were issued, or those of the trial hoop before.

The next is written only with the sticks of the one before seen to: as many are fresh as were written off.
"""

from django.db import migrations

#: Sticks written off of the trial hoop before.
_WRITTEN_OFF = (
    "(SELECT coalesce(sum(s.sticks), 0) FROM hoops_spoiltsticks s JOIN hoops_trialhoop t ON t.id = s.trial_id"
    " WHERE t.batch_id = NEW.batch_id AND t.attempt = NEW.attempt - 1)"
)
_OF_A_HOOP = "(SELECT b.sticks_a_hoop FROM hoops_hoopbatch b WHERE b.id = {batch})"

#: Table, moment, what must not be, and what is said then.
GUARDS = {
    "trial_bent_of_sticks_it_has": (
        "hoops_trialhoop",
        "INSERT",
        "NEW.fresh_sticks IS NULL OR NEW.fresh_sticks <> CASE WHEN NEW.attempt = 1 THEN "
        + _OF_A_HOOP.format(batch="NEW.batch_id")
        + f" ELSE {_WRITTEN_OFF} END OR NOT EXISTS (SELECT 1 FROM hoops_hoopbatch b WHERE b.id = NEW.batch_id"
        " AND b.sticks_issued >= b.sticks_a_hoop + b.sticks_spoilt)",
        "a trial hoop is bent of sticks that its batch has",
    ),
    "trial_sticks_stay": (
        "hoops_trialhoop",
        "UPDATE",
        "NEW.fresh_sticks <> OLD.fresh_sticks OR (NEW.fresh_sticks IS NULL AND OLD.fresh_sticks IS NOT NULL)"
        " OR (NEW.fresh_sticks IS NOT NULL AND OLD.fresh_sticks IS NULL)",
        "the sticks of a trial hoop stay",
    ),
    "spoilt_sticks_of_the_last_trial": (
        "hoops_spoiltsticks",
        "INSERT",
        "NEW.trial_id IS NOT NULL AND (EXISTS (SELECT 1 FROM hoops_trialhoop t JOIN hoops_trialhoop later"
        " ON later.batch_id = t.batch_id AND later.attempt > t.attempt WHERE t.id = NEW.trial_id)"
        " OR NEW.sticks + (SELECT coalesce(sum(s.sticks), 0) FROM hoops_spoiltsticks s"
        f" WHERE s.trial_id = NEW.trial_id) > {_OF_A_HOOP.format(batch='NEW.batch_id')})",
        "no more sticks of a trial hoop are spoilt than it has, and of the last one alone",
    ),
}


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )


def _postgresql(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF ({wrong}) THEN"
            f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
        )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("hoops", "0005_sticks_of_trial_hoops")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
