"""A trial hoop outside the tolerance is accepted with a reason, and the tolerance stays once one is accepted.

The verdict follows the tolerance until then, so it is no more among what is kept as measured; that it says "accepted"
only of a hoop within the tolerance is a guard of its own. The rise is compared with that of an arc, which no SQL can
work out, so a guard knows span and twist alone.
"""

from django.db import migrations

#: Half of the last place of a length: SQLite compares floats.
_HALF = "0.0000005"
_NOT_SO = (
    "NEW.verdict = 'accepted' AND EXISTS (SELECT 1 FROM hoops_hoopbatch b WHERE b.id = NEW.batch_id"
    f" AND (abs(NEW.free_span - NEW.target_span) > b.span_tolerance + {_HALF}"
    f" OR abs(coalesce(NEW.twist, 0)) > b.twist_tolerance + {_HALF}))"
)
_JUDGED = "a trial hoop is within the tolerance of its batch, or not judged so"

#: Table, moment, what must not be, and what is said then.
GUARDS = {
    "trial_judged_as_measured": ("hoops_trialhoop", "INSERT", _NOT_SO, _JUDGED),
    "trial_judged_by_the_tolerance": (
        "hoops_trialhoop",
        "UPDATE",
        f"(NEW.verdict <> OLD.verdict OR NEW.accepted <> OLD.accepted) AND {_NOT_SO}",
        _JUDGED,
    ),
    "trial_accepted_with_a_reason": (
        "hoops_trialhoop",
        "UPDATE",
        "NEW.accepted AND NEW.verdict <> 'accepted' AND trim(NEW.accept_reason) = ''",
        "a trial hoop outside the tolerance is accepted with a reason",
    ),
    "tolerance_stays_once_proven": (
        "hoops_hoopbatch",
        "UPDATE",
        "OLD.accepted_trial_id IS NOT NULL AND ("
        + " OR ".join(f"NEW.{name} <> OLD.{name}" for name in ("span_tolerance", "rise_tolerance", "twist_tolerance"))
        + ")",
        "the tolerance stays once a trial hoop is accepted",
    ),
}
EDITED = "trialhoop_never_edited"
MEASURED = ("batch_id", "attempt", "free_span", "rise", "last_gap", "twist", "stop_gap", "target_span")
#: As 0003_guards had it, and as it is from here on.
KEPT_BEFORE = (*MEASURED, "verdict", "effective_radius")
KEPT = (*MEASURED, "effective_radius")
ACCEPTANCE = ("verdict", "accept_reason", "accepted_by_id")


def _edited(differs: str, kept: tuple[str, ...], acceptance: tuple[str, ...]) -> str:
    changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in kept)
    then = " OR ".join(["NOT NEW.accepted", *(f"NEW.{name} {differs} OLD.{name}" for name in acceptance)])
    early = " OR (NOT NEW.accepted AND NEW.accept_reason <> '')" if acceptance else ""
    return f"{changed} OR (OLD.accepted AND ({then})){early}"


def _set(schema_editor, kept: tuple[str, ...], acceptance: tuple[str, ...]) -> None:
    """Say anew what of a trial hoop is never edited."""
    words = f"{EDITED}: a trial hoop is kept as measured"
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(f"DROP TRIGGER {EDITED}", params=None)
        schema_editor.execute(
            f"CREATE TRIGGER {EDITED} BEFORE UPDATE ON hoops_trialhoop FOR EACH ROW"
            f" WHEN {_edited('IS NOT', kept, acceptance)} BEGIN SELECT RAISE(ABORT, '{words}'); END",
            params=None,
        )
        return
    schema_editor.execute(
        f"CREATE OR REPLACE FUNCTION {EDITED}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        f" IF {_edited('IS DISTINCT FROM', kept, acceptance)} THEN"
        f" RAISE EXCEPTION '{words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        params=None,
    )


def _create(schema_editor, name: str, table: str, moment: str, wrong: str, words: str) -> None:
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )
        return
    schema_editor.execute(
        f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF ({wrong}) THEN"
        f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
        params=None,
    )
    schema_editor.execute(
        f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
    )


def add_guards(apps, schema_editor) -> None:
    _set(schema_editor, KEPT, ACCEPTANCE)
    for name, guard in GUARDS.items():
        _create(schema_editor, name, *guard)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)
    _set(schema_editor, KEPT_BEFORE, ())


class Migration(migrations.Migration):
    dependencies = [("hoops", "0007_accepted_outside_tolerance")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
