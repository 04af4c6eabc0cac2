"""What no CHECK can say of reservations: sums are true, and only houses of an accepted plan hold anything."""

from django.db import migrations

_HELD = "(SELECT coalesce(sum(r.quantity), 0) FROM stock_reservation r WHERE r.{of}_id = {row}.id)"
_UNFIT = (
    "NOT EXISTS (SELECT 1 FROM plans_planhouse h JOIN plans_plan p ON p.id = h.plan_id JOIN sites_house s"
    " ON s.id = h.house_id WHERE h.plan_id = NEW.plan_id AND h.house_id = NEW.house_id AND h.accepted"
    " AND p.accepted_at IS NOT NULL AND p.released_at IS NULL AND p.organisation_id = NEW.organisation_id"
    " AND s.organisation_id = NEW.organisation_id)"
    " OR (NEW.lot_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_lot l WHERE l.id = NEW.lot_id"
    " AND l.organisation_id = NEW.organisation_id))"
    " OR (NEW.order_line_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM buying_purchaseorderline l"
    " JOIN buying_purchaseorder o ON o.id = l.order_id WHERE l.id = NEW.order_line_id"
    " AND o.organisation_id = NEW.organisation_id AND o.state <> 'cancelled'))"
)

#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    "lot_starts_with_nothing_held": ("stock_lot", "INSERT", "NEW.reserved <> 0", "a new lot is held by nobody"),
    "lot_reserved_is_true": (
        "stock_lot",
        "UPDATE",
        f"NEW.reserved <> OLD.reserved AND NEW.reserved <> {_HELD.format(of='lot', row='NEW')}",
        "what is reserved is the sum of the reservations",
    ),
    "line_starts_with_nothing_held": (
        "buying_purchaseorderline",
        "INSERT",
        "NEW.reserved <> 0",
        "a new order line is held by nobody",
    ),
    "line_reserved_is_true": (
        "buying_purchaseorderline",
        "UPDATE",
        f"NEW.reserved <> OLD.reserved AND NEW.reserved <> {_HELD.format(of='order_line', row='NEW')}",
        "what is reserved is the sum of the reservations",
    ),
    "reservation_of_an_accepted_plan": (
        "stock_reservation",
        "INSERT",
        _UNFIT,
        "only houses of an accepted plan of the same organisation hold anything",
    ),
    "reservation_stays_in_its_plan": (
        "stock_reservation",
        "UPDATE",
        _UNFIT,
        "only houses of an accepted plan of the same organisation hold anything",
    ),
    "order_held_not_cancelled": (
        "buying_purchaseorder",
        "UPDATE",
        "NEW.state = 'cancelled' AND EXISTS (SELECT 1 FROM buying_purchaseorderline l"
        " WHERE l.order_id = NEW.id AND l.reserved <> 0)",
        "houses hold what is to come on this order",
    ),
    "plan_holding_not_released": (
        "plans_plan",
        "UPDATE",
        "(NEW.released_at IS NOT NULL OR NEW.accepted_at IS NULL) AND (EXISTS (SELECT 1 FROM stock_reservation r"
        " WHERE r.plan_id = NEW.id) OR EXISTS (SELECT 1 FROM plans_planhouse h WHERE h.plan_id = NEW.id"
        " AND h.accepted))",
        "houses of this plan still hold something",
    ),
    "plan_house_holding_not_let_go": (
        "plans_planhouse",
        "UPDATE",
        "OLD.accepted AND (NOT NEW.accepted OR NEW.plan_id <> OLD.plan_id OR NEW.house_id <> OLD.house_id)"
        " AND EXISTS (SELECT 1 FROM stock_reservation r WHERE r.plan_id = OLD.plan_id"
        " AND r.house_id = OLD.house_id)",
        "this house still holds something",
    ),
    "plan_house_of_an_accepted_plan": (
        "plans_planhouse",
        "UPDATE",
        "NEW.accepted AND NOT EXISTS (SELECT 1 FROM plans_plan p WHERE p.id = NEW.plan_id"
        " AND p.accepted_at IS NOT NULL AND p.released_at IS NULL)",
        "a house is accepted with its plan",
    ),
}
#: Table summed into, and the column of the reservation that points there.
SUMS = {"stock_lot": "lot_id", "buying_purchaseorderline": "order_line_id"}


def _count(table: str, column: str, row: str) -> str:
    held = f"(SELECT coalesce(sum(quantity), 0) FROM stock_reservation WHERE {column} = {row}.{column})"
    return f"UPDATE {table} SET reserved = {held} WHERE id = {row}.{column}"


#: What PostgreSQL holds still while a guard looks, so that nobody lets go of it meanwhile.
_LOOKED_AT = {
    "stock_reservation": "plans_planhouse WHERE plan_id = NEW.plan_id AND house_id = NEW.house_id",
    "plans_planhouse": "plans_plan WHERE id = NEW.plan_id",
}
MOMENTS = {"INSERT": ("NEW",), "DELETE": ("OLD",), "UPDATE": ("OLD", "NEW")}


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )
    for moment, rows in MOMENTS.items():
        steps = "; ".join(_count(table, column, row) for row in rows for table, column in SUMS.items())
        schema_editor.execute(
            f"CREATE TRIGGER reservation_counted_{moment.lower()} AFTER {moment} ON stock_reservation FOR EACH ROW"
            f" BEGIN {steps}; END",
            params=None,
        )


def _postgresql(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        hold = f"PERFORM 1 FROM {_LOOKED_AT[table]} FOR SHARE; " if table in _LOOKED_AT else ""
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {hold}IF {wrong} THEN"
            f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
        )
    # The lock first, so that the sums are taken after whoever held it has committed.
    for moment, rows in MOMENTS.items():
        steps = " ".join(
            f"IF {row}.{column} IS NOT NULL THEN PERFORM 1 FROM {table} WHERE id = {row}.{column} FOR NO KEY UPDATE;"
            f" {_count(table, column, row)}; END IF;"
            for row in rows
            for table, column in SUMS.items()
        )
        name = f"reservation_counted_{moment.lower()}"
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {steps} RETURN NULL; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} AFTER {moment} ON stock_reservation FOR EACH ROW EXECUTE FUNCTION {name}()",
            params=None,
        )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    tables = {name: table for name, (table, *_) in GUARDS.items()}
    tables |= {f"reservation_counted_{moment.lower()}": "stock_reservation" for moment in MOMENTS}
    for name, table in tables.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("stock", "0004_reservations")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
