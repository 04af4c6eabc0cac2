"""What no CHECK can say of movements: they are kept as written, and one that answers another fits it.

On PostgreSQL emptying a whole table (TRUNCATE) is no DELETE and stays with whoever owns the database.
"""

from django.db import migrations

_KEPT = {
    "stock_movement": "a movement is never changed; reverse it by another",
    "stock_cut": "a cut is kept as it was made",
    "stock_cutpiece": "a cut is kept as it was made",
}
_GIVEN_BACK = "(SELECT coalesce(sum(g.quantity), 0) FROM stock_movement g WHERE g.gives_back_id = {lent})"


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    same = " AND ".join(
        f"NOT (o.{name} {differs} NEW.{name})"
        for name in ("lot_id", "kind", "borrower", "house_id", "cut_id", "gives_back_id")
    )
    kept = {
        f"{table}_never_{word}": (table, moment, "1 = 1", words)
        for table, words in _KEPT.items()
        for word, moment in (("edited", "UPDATE"), ("deleted", "DELETE"))
    }
    return kept | {
        "movement_reverses_its_like": (
            "stock_movement",
            "INSERT",
            "NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_movement o WHERE o.id = NEW.reverses_id"
            f" AND o.reverses_id IS NULL AND o.quantity = -NEW.quantity AND {same})",
            "a movement is reversed by its opposite, and a reversal is not reversed",
        ),
        "movement_lent_and_reversed": (
            "stock_movement",
            "INSERT",
            f"NEW.reverses_id IS NOT NULL AND NEW.kind = 'lend' AND {_GIVEN_BACK.format(lent='NEW.reverses_id')} <> 0",
            "some of what was lent was given back",
        ),
        "movement_gives_back_too_much": (
            "stock_movement",
            "INSERT",
            "NEW.gives_back_id IS NOT NULL AND NEW.reverses_id IS NULL AND NOT EXISTS (SELECT 1 FROM stock_movement o"
            " WHERE o.id = NEW.gives_back_id AND o.kind = 'lend' AND o.reverses_id IS NULL AND o.lot_id = NEW.lot_id"
            " AND o.borrower = NEW.borrower"
            f" AND {_GIVEN_BACK.format(lent='o.id')} + NEW.quantity <= -o.quantity"
            " AND NOT EXISTS (SELECT 1 FROM stock_movement r WHERE r.reverses_id = o.id))",
            "no more is given back than was lent",
        ),
        "movement_comes_from_its_like": (
            "stock_movement",
            "INSERT",
            "NEW.moved_from_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_movement o"
            " JOIN stock_lot a ON a.id = o.lot_id JOIN stock_lot b ON b.id = NEW.lot_id"
            " WHERE o.id = NEW.moved_from_id AND o.kind = 'move' AND NEW.kind = 'move' AND o.reverses_id IS NULL"
            " AND o.quantity = -NEW.quantity AND a.id <> b.id AND a.organisation_id = b.organisation_id"
            f" AND a.material_id = b.material_id AND a.offcut = b.offcut AND NOT (a.length {differs} b.length))",
            "what comes into a place is what went out of the other",
        ),
    }


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in guards("IS NOT").items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )


def _postgresql(schema_editor) -> None:
    for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM").items():
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
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
    for name, (table, *_) in guards("IS NOT").items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("stock", "0002_movement_kinds")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
