"""What no CHECK can say of counts: one that has ended stays as it is, and every entry is kept."""

from django.db import migrations

_NOT_OPEN = "NOT EXISTS (SELECT 1 FROM stock_stockcount c WHERE c.id = NEW.count_id AND c.state = 'open')"
_LINE_NOT_OPEN = (
    "NOT EXISTS (SELECT 1 FROM stock_countline l JOIN stock_stockcount c ON c.id = l.count_id"
    " WHERE l.id = NEW.line_id AND c.state = 'open')"
)
_ENDED = "the count has ended"
_KEPT = "what was written down in a count is kept"

#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    "count_ends_once": ("stock_stockcount", "UPDATE", "OLD.state <> 'open'", "a count that has ended is never changed"),
    "count_never_deleted": ("stock_stockcount", "DELETE", "1 = 1", _KEPT),
    "count_line_of_an_open_count": ("stock_countline", "INSERT", _NOT_OPEN, _ENDED),
    "count_line_not_edited_later": ("stock_countline", "UPDATE", _NOT_OPEN, _ENDED),
    "count_line_posted_once": (
        "stock_countline",
        "UPDATE",
        "OLD.movement_id IS NOT NULL OR NEW.count_id <> OLD.count_id OR NEW.lot_id <> OLD.lot_id",
        "a line is posted once, and stays with its lot",
    ),
    "count_line_never_deleted": ("stock_countline", "DELETE", "1 = 1", _KEPT),
    "count_entry_of_an_open_count": ("stock_countentry", "INSERT", _LINE_NOT_OPEN, _ENDED),
    "count_entry_never_edited": ("stock_countentry", "UPDATE", "1 = 1", _KEPT),
    "count_entry_never_deleted": ("stock_countentry", "DELETE", "1 = 1", _KEPT),
    "count_find_of_an_open_count": ("stock_countfind", "INSERT", _NOT_OPEN, _ENDED),
    "count_find_not_edited_later": ("stock_countfind", "UPDATE", f"OLD.lot_id IS NOT NULL OR {_NOT_OPEN}", _ENDED),
    "count_find_never_deleted": ("stock_countfind", "DELETE", "1 = 1", _KEPT),
}
#: What PostgreSQL holds still while a guard looks, so that nobody ends the count meanwhile.
_LOOKED_AT = {
    "stock_countline": "stock_stockcount WHERE id = NEW.count_id",
    "stock_countentry": "stock_stockcount WHERE id = (SELECT count_id FROM stock_countline WHERE id = NEW.line_id)",
    "stock_countfind": "stock_stockcount WHERE id = NEW.count_id",
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
        hold = f"PERFORM 1 FROM {_LOOKED_AT[table]} FOR SHARE; " if table in _LOOKED_AT and moment != "DELETE" else ""
        schema_editor.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {hold}IF {wrong} THEN"
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
    dependencies = [("stock", "0006_counts")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
