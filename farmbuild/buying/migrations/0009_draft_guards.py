"""A draft may be changed; what was ordered stays from the moment it goes out."""

from django.db import migrations

_ORDERED = ("order_id", "position", "material_id", "length", "quantity", "unit_price", "line_total", "tax", "need_by")
_MONEY = ("organisation_id", "number", "supplier_id", "currency", "goods", "delivery", "tax", "total")
_FIXED = ("organisation_id", "number", "supplier_id", "currency", "plan_id")
_OF_ORDER = ("delivery_site_id", "order_by", "need_by", "goods", "delivery", "tax", "total", "tax_percent", "note")
_OF_LINE = (
    *("order_id", "position", "material_id", "description", "supplier_code", "length", "needed", "pack", "quantity"),
    *("unit_price", "line_total", "tax", "need_by", "late_days", "delivery_site_id"),
)
_WORDS = "what was ordered stays"
ORDER, LINE, CHANGE = "buying_purchaseorder", "buying_purchaseorderline", "buying_orderchange"


def _guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then."""

    def changed(*names: str) -> str:
        return " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in names)

    no_draft = "EXISTS (SELECT 1 FROM buying_purchaseorder o WHERE o.id IN ({of}) AND o.state <> 'draft')"
    return {
        "order_stays_as_sent": (
            ORDER,
            "UPDATE",
            f"{changed(*_FIXED)} OR (OLD.state <> 'draft' AND ({changed(*_OF_ORDER)}))"
            f" OR (OLD.sent_on IS NOT NULL AND ({changed('sent_on', 'sent_how')}))",
            _WORDS,
        ),
        "order_line_stays_as_ordered": (
            LINE,
            "UPDATE",
            f"({changed(*_OF_LINE)}) AND {no_draft.format(of='OLD.order_id, NEW.order_id')}",
            _WORDS,
        ),
        "order_line_of_a_draft": (LINE, "INSERT", no_draft.format(of="NEW.order_id"), _WORDS),
        "order_change_never_edited": (CHANGE, "UPDATE", "1 = 1", "what was changed is kept"),
    }


def _guards_before(differs: str) -> dict[str, tuple[str, str, str, str]]:
    def changed(*names: str) -> str:
        return " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in names)

    return {
        "order_stays_as_sent": (
            ORDER,
            "UPDATE",
            f"{changed(*_MONEY)} OR (OLD.sent_on IS NOT NULL AND ({changed('sent_on', 'sent_how')}))",
            _WORDS,
        ),
        "order_line_stays_as_ordered": (LINE, "UPDATE", changed(*_ORDERED), _WORDS),
    }


def _create(schema_editor, guards) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM" if postgresql else "IS NOT").items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            create = f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
        else:
            create = (
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END"
            )
        schema_editor.execute(create, params=None)


def _drop(schema_editor, guards) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in guards("IS NOT").items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


def add_guards(apps, schema_editor) -> None:
    _drop(schema_editor, _guards_before)
    _create(schema_editor, _guards)


def remove_guards(apps, schema_editor) -> None:
    _drop(schema_editor, _guards)
    _create(schema_editor, _guards_before)


class Migration(migrations.Migration):
    dependencies = [("buying", "0008_by_hand")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
