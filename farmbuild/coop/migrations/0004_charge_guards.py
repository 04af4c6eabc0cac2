"""Charges, payments and statements are kept as they were posted or sent, and name rows of their own organisation."""

from django.db import migrations

_KEPT = {
    "booking_charge": "coop_bookingcharge",
    "member_payment": "coop_memberpayment",
    "sent_statement": "coop_sentstatement",
    "damage": "coop_damage",
}
#: Of a damage only what became of it changes.
_STAYS = ("organisation_id", "booking_id", "entry_id", "what", "amount", "made_by_id")
#: Whose rows a column names.
_OWNERS = {
    "coop_chargerate": {"bender_id": "hoops_bender"},
    "coop_bookingcharge": {"entry_id": "coop_memberentry", "booking_id": "crew_benderbooking"},
    "coop_memberpayment": {"entry_id": "coop_memberentry", "member_id": "crew_member"},
    "coop_sentstatement": {"member_id": "crew_member"},
    "coop_damage": {"entry_id": "coop_memberentry", "booking_id": "crew_benderbooking"},
}


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    found = {}
    for word, table in _KEPT.items():
        edited = "1 = 1"
        if word == "damage":
            edited = " OR ".join(f"OLD.{name} {differs} NEW.{name}" for name in _STAYS)
        found[f"{word}_never_edited"] = (table, "UPDATE", edited, "what was posted or sent is kept")
        found[f"{word}_never_deleted"] = (table, "DELETE", "1 = 1", "what was posted or sent is kept")
    for table, owners in _OWNERS.items():
        others = " OR ".join(
            f"(NEW.{column} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {other} x WHERE x.id = NEW.{column}"
            f" AND x.organisation_id = NEW.organisation_id))"
            for column, other in owners.items()
        )
        for moment in ("INSERT", "UPDATE"):
            name = f"{table}_of_one_organisation_{moment.lower()}"
            found[name] = (table, moment, others, "it names what belongs to another organisation")
    return found


def add_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM").items():
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        return
    for name, (table, moment, wrong, words) in guards("IS NOT").items():
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
    dependencies = [("coop", "0003_charges_and_statements")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
