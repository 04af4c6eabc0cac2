"""What no CHECK can say of amounts: a lot is worth what its ledger adds up to, and shares add up to their movement."""

from django.db import migrations

_KEPT = {
    "stock_costshare": "what a movement cost is never changed; reverse the movement",
    "stock_repricing": "a repricing is never changed; reprice again",
}
_WORTH = (
    "(SELECT coalesce(sum(m.amount), 0) FROM stock_movement m WHERE m.lot_id = {lot})"
    " + (SELECT coalesce(sum(r.amount), 0) FROM stock_repricing r WHERE r.lot_id = {lot})"
)
_SHARED = "(SELECT coalesce(sum(s.{what}), 0) FROM stock_costshare s WHERE s.movement_id = {movement})"


def _beyond(what: str) -> str:
    """The shares so far and this one are no part of what went out or came back."""
    sofar = f"({_SHARED.format(what=what, movement='NEW.movement_id')} + NEW.{what})"
    whole = f"m.{what}" if what == "amount" else "m.quantity * 1000"
    return f"({whole} > 0 AND {sofar} > 0) OR ({whole} < 0 AND {sofar} < 0) OR abs{sofar} > abs({whole})"


#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    f"{table}_never_{word}": (table, moment, "1 = 1", words)
    for table, words in _KEPT.items()
    for word, moment in (("edited", "UPDATE"), ("deleted", "DELETE"))
} | {
    "lot_starts_worth_nothing": ("stock_lot", "INSERT", "NEW.value <> 0", "a new lot has no movement yet"),
    "lot_value_is_true": (
        "stock_lot",
        "UPDATE",
        f"NEW.value <> OLD.value AND NEW.value <> {_WORTH.format(lot='NEW.id')}",
        "a lot is worth the sum of its movements and repricings",
    ),
    "lot_cost_by_repricing": (
        "stock_lot",
        "UPDATE",
        "NEW.unit_cost <> OLD.unit_cost AND NEW.unit_cost <> coalesce((SELECT r.new_cost FROM stock_repricing r"
        " WHERE r.lot_id = NEW.id ORDER BY r.id DESC LIMIT 1), -1)",
        "what a piece costs is changed by a repricing",
    ),
    "movement_reverses_its_amount": (
        "stock_movement",
        "INSERT",
        "NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_movement o WHERE o.id = NEW.reverses_id"
        " AND o.amount = -NEW.amount)",
        "a reversal brings back exactly what went out",
    ),
    "movement_moves_its_amount": (
        "stock_movement",
        "INSERT",
        "NEW.moved_from_id IS NOT NULL AND NEW.reverses_id IS NULL AND NOT EXISTS (SELECT 1 FROM stock_movement o"
        " WHERE o.id = NEW.moved_from_id AND o.amount = -NEW.amount)",
        "pieces are worth in one place what they were in the other",
    ),
    "cost_share_within_its_movement": (
        "stock_costshare",
        "INSERT",
        f"NOT EXISTS (SELECT 1 FROM stock_movement m WHERE m.id = NEW.movement_id"
        f" AND NOT ({_beyond('amount')} OR {_beyond('quantity')}))",
        "the shares of a movement are no more than its amount and its pieces",
    ),
    "cost_share_of_its_organisation": (
        "stock_costshare",
        "INSERT",
        "NEW.house_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_movement m JOIN stock_lot l ON l.id = m.lot_id"
        " JOIN sites_house h ON h.id = NEW.house_id WHERE m.id = NEW.movement_id"
        " AND h.organisation_id = l.organisation_id)",
        "a house bears what came out of its own stock",
    ),
}
_EMPTY = "a lot without pieces is worth nothing"
_UNSHARED = "what went out is shared out whole"
_VALUED = {"stock_movement": "lot_valued_by_movement", "stock_repricing": "lot_valued_by_repricing"}
_WHOLE = "movement_is_shared_out"


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )
    for table, name in _VALUED.items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} AFTER INSERT ON {table} FOR EACH ROW BEGIN"
            f" UPDATE stock_lot SET value = {_WORTH.format(lot='NEW.lot_id')} WHERE id = NEW.lot_id;"
            f" SELECT RAISE(ABORT, '{name}: {_EMPTY}') FROM stock_lot"
            " WHERE id = NEW.lot_id AND on_hand = 0 AND value <> 0; END",
            params=None,
        )


def _postgresql(schema_editor) -> None:
    for name, (table, moment, wrong, words) in GUARDS.items():
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
            f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
        )
    # The lock first, so that the sums are taken after whoever held it has committed.
    for table, name in _VALUED.items():
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
            " PERFORM 1 FROM stock_lot WHERE id = NEW.lot_id FOR NO KEY UPDATE;"
            f" UPDATE stock_lot SET value = {_WORTH.format(lot='NEW.lot_id')} WHERE id = NEW.lot_id;"
            " IF EXISTS (SELECT 1 FROM stock_lot WHERE id = NEW.lot_id AND on_hand = 0 AND value <> 0) THEN"
            f" RAISE EXCEPTION '{name}: {_EMPTY}' USING ERRCODE = 'check_violation'; END IF;"
            " RETURN NULL; END $$",
            params=None,
        )
        schema_editor.execute(
            f"CREATE TRIGGER {name} AFTER INSERT ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
        )
    # Looked at as the transaction ends: the shares follow their movement.
    amount, quantity = (_SHARED.format(what=what, movement="NEW.id") for what in ("amount", "quantity"))
    schema_editor.execute(
        f"CREATE FUNCTION {_WHOLE}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " IF (NEW.kind IN ('issue', 'return', 'scrap')"
        " OR EXISTS (SELECT 1 FROM stock_costshare WHERE movement_id = NEW.id))"
        f" AND ({amount} <> -NEW.amount OR {quantity} <> -1000 * NEW.quantity) THEN"
        f" RAISE EXCEPTION '{_WHOLE}: {_UNSHARED}' USING ERRCODE = 'check_violation'; END IF; RETURN NULL; END $$",
        params=None,
    )
    schema_editor.execute(
        f"CREATE CONSTRAINT TRIGGER {_WHOLE} AFTER INSERT ON stock_movement DEFERRABLE INITIALLY DEFERRED"
        f" FOR EACH ROW EXECUTE FUNCTION {_WHOLE}()",
        params=None,
    )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    tables = {name: table for name, (table, *_) in GUARDS.items()} | {name: table for table, name in _VALUED.items()}
    tables |= {_WHOLE: "stock_movement"} if postgresql else {}
    for name, table in tables.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("stock", "0013_amounts_of_earlier_movements")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
