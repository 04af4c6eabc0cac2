"""What is charged is kept as it was charged, is of one organisation, and is taken back by its opposite alone.

Time of a person does not overlap, and a thing is charged once a house and day.
"""

from django.db import migrations

_TABLES = {
    "paid_time": ("costs_paidtime", "minutes", ("person_id", "house_id", "day", "rate", "step", "approval_id")),
    "equipment_day": ("costs_equipmentday", "days", ("equipment_id", "house_id", "day", "rate", "booking_id")),
    "trip": ("costs_trip", "times", ("site_id", "house_id", "day", "rate", "shared")),
}
#: Whose rows a column names.
_OWNERS = {
    "costs_payrate": {"person_id": "crew_person", "crew_id": "crew_crew"},
    "costs_equipment": {"bender_id": "hoops_bender"},
    "costs_equipmentrate": {"equipment_id": "costs_equipment"},
    "costs_triprate": {"site_id": "sites_site"},
    "costs_paidtime": {"person_id": "crew_person", "house_id": "sites_house", "approval_id": "crew_hourapproval"},
    "costs_equipmentday": {
        "equipment_id": "costs_equipment",
        "house_id": "sites_house",
        "booking_id": "crew_benderbooking",
    },
    "costs_trip": {"site_id": "sites_site", "house_id": "sites_house", "crew_id": "crew_crew"},
}
_COUNTS = "{o}.reverses_id IS NULL AND NOT EXISTS (SELECT 1 FROM {table} r WHERE r.reverses_id = {o}.id)"


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    found = {}
    for word, (table, quantity, columns) in _TABLES.items():
        same = " AND ".join(f"NOT (o.{name} {differs} NEW.{name})" for name in ("organisation_id", *columns))
        for moment, done in (("UPDATE", "edited"), ("DELETE", "deleted")):
            found[f"{word}_never_{done}"] = (table, moment, "1 = 1", "what was charged is kept; take it back")
        found[f"{word}_taken_back_by_its_opposite"] = (
            table,
            "INSERT",
            f"NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {table} o WHERE o.id = NEW.reverses_id"
            f" AND o.reverses_id IS NULL AND o.{quantity} = -NEW.{quantity} AND o.amount = -NEW.amount AND {same})",
            "what is taken back is taken back whole, and once",
        )
    for table, owners in _OWNERS.items():
        others = " OR ".join(
            f"(NEW.{column} IS NOT NULL AND NOT EXISTS (SELECT 1 FROM {other} x WHERE x.id = NEW.{column}"
            f" AND x.organisation_id = NEW.organisation_id))"
            for column, other in owners.items()
        )
        for moment in ("INSERT", "UPDATE"):
            found[f"{table}_of_one_organisation_{moment.lower()}"] = (
                table,
                moment,
                others,
                "it names what belongs to another organisation",
            )
    found["paid_time_never_overlaps"] = (
        "costs_paidtime",
        "INSERT",
        "NEW.reverses_id IS NULL AND NEW.starts_at IS NOT NULL AND EXISTS (SELECT 1 FROM costs_paidtime o"
        " WHERE o.person_id = NEW.person_id AND o.starts_at < NEW.ends_at AND NEW.starts_at < o.ends_at"
        f" AND {_COUNTS.format(o='o', table='costs_paidtime')})",
        "nobody is at two things at once",
    )
    found["paid_time_once_an_approval"] = (
        "costs_paidtime",
        "INSERT",
        "NEW.reverses_id IS NULL AND NEW.approval_id IS NOT NULL AND EXISTS (SELECT 1 FROM costs_paidtime o"
        " WHERE o.approval_id = NEW.approval_id AND o.person_id = NEW.person_id AND o.after_hours = NEW.after_hours"
        f" AND {_COUNTS.format(o='o', table='costs_paidtime')})",
        "approved hours are paid once",
    )
    found["equipment_day_once_a_house"] = (
        "costs_equipmentday",
        "INSERT",
        "NEW.reverses_id IS NULL AND NEW.house_id IS NOT NULL AND EXISTS (SELECT 1 FROM costs_equipmentday o"
        " WHERE o.equipment_id = NEW.equipment_id AND o.day = NEW.day AND o.house_id = NEW.house_id"
        f" AND {_COUNTS.format(o='o', table='costs_equipmentday')})",
        "a thing is charged once a house and day",
    )
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
    dependencies = [("costs", "0001_initial")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
