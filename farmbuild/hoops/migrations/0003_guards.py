"""What no CHECK can say of a batch: its sums are those of its rows, and it is proven by a trial hoop of its own.

Deleting rows is left to foreign keys, so that tests can empty tables.
"""

from django.db import migrations

SUMS = {
    "attempts": "(SELECT count(*) FROM hoops_trialhoop WHERE batch_id = {batch})",
    "sticks_issued": (
        "(SELECT coalesce(-sum(m.quantity), 0) FROM hoops_batchsticks s"
        " JOIN stock_movement m ON m.id = s.movement_id WHERE s.batch_id = {batch})"
    ),
    "sticks_spoilt": "(SELECT coalesce(sum(sticks), 0) FROM hoops_spoiltsticks WHERE batch_id = {batch})",
    "hoops_bent": "(SELECT coalesce(sum(hoops), 0) FROM hoops_benthoops WHERE batch_id = {batch})",
}
COUNTED = ("hoops_trialhoop", "hoops_batchsticks", "hoops_spoiltsticks", "hoops_benthoops")

#: Table, moment, what must not be, and what is said then.
GUARDS = {
    "batch_starts_empty": (
        "hoops_hoopbatch",
        "INSERT",
        " OR ".join(f"NEW.{name} <> 0" for name in SUMS) + " OR NEW.accepted_trial_id IS NOT NULL",
        "a batch starts with nothing done",
    ),
    "batch_stays_what_it_is": (
        "hoops_hoopbatch",
        "UPDATE",
        "NEW.organisation_id <> OLD.organisation_id OR NEW.number <> OLD.number OR NEW.recipe_id <> OLD.recipe_id"
        " OR NEW.sticks_a_hoop <> OLD.sticks_a_hoop",
        "the number, recipe and sticks of a batch stay",
    ),
    "batch_sums_are_true": (
        "hoops_hoopbatch",
        "UPDATE",
        " OR ".join(
            f"(NEW.{name} <> OLD.{name} AND NEW.{name} <> {how.format(batch='NEW.id')})" for name, how in SUMS.items()
        ),
        "the sums of a batch are those of its rows",
    ),
    "batch_proven_by_its_own_trial": (
        "hoops_hoopbatch",
        "UPDATE",
        "NEW.accepted_trial_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM hoops_trialhoop t"
        " WHERE t.id = NEW.accepted_trial_id AND t.batch_id = NEW.id AND t.accepted)",
        "a batch is proven by an accepted trial hoop of its own",
    ),
    "batch_stays_proven": (
        "hoops_hoopbatch",
        "UPDATE",
        "OLD.accepted_trial_id IS NOT NULL"
        " AND (NEW.accepted_trial_id IS NULL OR NEW.accepted_trial_id <> OLD.accepted_trial_id)",
        "the accepted trial hoop of a batch stays",
    ),
    "sticks_of_the_same_owner": (
        "hoops_batchsticks",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM stock_movement m JOIN stock_lot l ON l.id = m.lot_id JOIN hoops_hoopbatch b"
        " ON b.id = NEW.batch_id AND b.organisation_id = l.organisation_id"
        " WHERE m.id = NEW.movement_id AND (m.kind = 'issue' AND m.quantity < 0 OR m.kind = 'return'"
        " AND m.quantity > 0))",
        "a batch takes issues and returns of its own organisation",
    ),
    # The batch's own page gives sticks back, and keeps both sums right.
    "batch_movement_not_reversed": (
        "stock_movement",
        "INSERT",
        "NEW.reverses_id IS NOT NULL"
        " AND EXISTS (SELECT 1 FROM hoops_batchsticks s WHERE s.movement_id = NEW.reverses_id)",
        "sticks of a batch go back through the batch",
    ),
    "spoilt_trial_of_the_same_batch": (
        "hoops_spoiltsticks",
        "INSERT",
        "NEW.trial_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM hoops_trialhoop t"
        " WHERE t.id = NEW.trial_id AND t.batch_id = NEW.batch_id)",
        "spoilt sticks belong to a trial hoop of the same batch",
    ),
    "recipe_of_a_batch_stays": (
        "hoops_recipe",
        "UPDATE",
        "("
        + " OR ".join(
            f"NEW.{name} <> OLD.{name}"
            for name in ("tube_id", "stick_length", "sticks", "insertion", "radius", "first_mark", "pitch")
        )
        + ") AND EXISTS (SELECT 1 FROM hoops_hoopbatch b WHERE b.recipe_id = NEW.id)",
        "what a batch is bent by stays",
    ),
    **{
        f"{table.removeprefix('hoops_')}_never_edited": (table, "UPDATE", "1 = 1", "what a batch recorded is kept")
        for table in COUNTED
        if table != "hoops_trialhoop"
    },
}
KEPT = (
    "batch_id",
    "attempt",
    "free_span",
    "rise",
    "last_gap",
    "twist",
    "stop_gap",
    "target_span",
    "verdict",
    "effective_radius",
)


def _guards(differs: str, then: str) -> dict[str, tuple[str, str, str, str]]:
    """With the trial hoop's own: only its acceptance may be written, once."""
    changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in KEPT)
    edited = f"{changed} OR ({then})"
    return GUARDS | {
        "trialhoop_never_edited": ("hoops_trialhoop", "UPDATE", edited, "a trial hoop is kept as measured")
    }


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in _guards("IS NOT", "OLD.accepted AND NOT NEW.accepted").items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )
    sums = ", ".join(f"{name} = {how.format(batch='NEW.batch_id')}" for name, how in SUMS.items())
    for table in COUNTED:
        schema_editor.execute(
            f"CREATE TRIGGER {table}_counted AFTER INSERT ON {table} FOR EACH ROW"
            f" BEGIN UPDATE hoops_hoopbatch SET {sums} WHERE id = NEW.batch_id; END",
            params=None,
        )


def _postgresql(schema_editor) -> None:
    guards = _guards("IS DISTINCT FROM", "OLD.accepted AND NOT NEW.accepted")
    for name, (table, moment, wrong, words) in guards.items():
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
            f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
        )
    sums = ", ".join(f"{name} = {how.format(batch='NEW.batch_id')}" for name, how in SUMS.items())
    # The lock first, so that the sums are taken after whoever held it has committed.
    schema_editor.execute(
        "CREATE FUNCTION hoops_batch_counted() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " PERFORM 1 FROM hoops_hoopbatch WHERE id = NEW.batch_id FOR NO KEY UPDATE;"
        f" UPDATE hoops_hoopbatch SET {sums} WHERE id = NEW.batch_id; RETURN NULL; END $$",
        params=None,
    )
    for table in COUNTED:
        schema_editor.execute(
            f"CREATE TRIGGER {table}_counted AFTER INSERT ON {table} FOR EACH ROW"
            " EXECUTE FUNCTION hoops_batch_counted()",
            params=None,
        )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    tables = {name: table for name, (table, *_) in _guards("IS NOT", "1 = 0").items()}
    tables |= {f"{table}_counted": table for table in COUNTED}
    for name, table in tables.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
    if postgresql:
        for name in [*_guards("IS NOT", "1 = 0"), "hoops_batch_counted"]:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("hoops", "0002_shop"), ("stock", "0002_movement_kinds")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
