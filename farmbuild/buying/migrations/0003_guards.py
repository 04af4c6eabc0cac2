"""What no CHECK can say of orders: which state follows which, that sums are those of receipts, and what is kept.

Deleting rows is left to foreign keys, so that tests can empty tables.
"""

from django.db import migrations

#: From, to. A reversed receipt leads back from received or part received.
STEPS = (
    ("draft", "sent"),
    ("draft", "cancelled"),
    ("sent", "part"),
    ("sent", "received"),
    ("sent", "cancelled"),
    ("part", "sent"),
    ("part", "received"),
    ("received", "part"),
    ("received", "sent"),
)
_STEP = " OR ".join(f"(OLD.state = '{old}' AND NEW.state = '{new}')" for old, new in STEPS)
_LINES = "SELECT 1 FROM buying_purchaseorderline l WHERE l.order_id = NEW.id"
_SUM = "(SELECT coalesce(sum(r.{name}), 0) FROM buying_receiptline r WHERE r.order_line_id = {line})"
_SUMS = ("arrived", "damaged")
_ORDERED = ("order_id", "position", "material_id", "length", "quantity", "unit_price", "line_total", "tax", "need_by")
_MONEY = ("organisation_id", "number", "supplier_id", "currency", "goods", "delivery", "tax", "total")


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""

    def changed(*names: str) -> str:
        return " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in names)

    return {
        "order_state_follows": (
            "buying_purchaseorder",
            "UPDATE",
            f"NEW.state <> OLD.state AND NOT ({_STEP})",
            "this state does not follow that one",
        ),
        "order_sent_with_a_workbook": (
            "buying_purchaseorder",
            "UPDATE",
            "OLD.state = 'draft' AND NEW.state = 'sent'"
            " AND NOT EXISTS (SELECT 1 FROM buying_sentworkbook w WHERE w.order_id = NEW.id)",
            "an order is sent with its workbook",
        ),
        "order_received_has_it_all": (
            "buying_purchaseorder",
            "UPDATE",
            "NEW.state = 'received' AND OLD.state <> 'received'"
            f" AND EXISTS ({_LINES} AND l.closed_at IS NULL AND l.arrived - l.damaged < l.quantity)",
            "something is still to come",
        ),
        "order_with_goods_not_cancelled": (
            "buying_purchaseorder",
            "UPDATE",
            f"NEW.state = 'cancelled' AND EXISTS ({_LINES} AND l.arrived <> 0)",
            "goods of this order have come",
        ),
        "order_stays_as_sent": (
            "buying_purchaseorder",
            "UPDATE",
            f"{changed(*_MONEY)} OR (OLD.sent_on IS NOT NULL AND ({changed('sent_on', 'sent_how')}))",
            "what was ordered stays",
        ),
        "order_line_stays_as_ordered": (
            "buying_purchaseorderline",
            "UPDATE",
            changed(*_ORDERED),
            "what was ordered stays",
        ),
        "order_line_sums_are_true": (
            "buying_purchaseorderline",
            "UPDATE",
            " OR ".join(
                f"(NEW.{name} <> OLD.{name} AND NEW.{name} <> {_SUM.format(name=name, line='NEW.id')})"
                for name in _SUMS
            ),
            "what arrived is the sum of the receipts",
        ),
        "receipt_of_an_open_order": (
            "buying_receipt",
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM buying_purchaseorder o WHERE o.id = NEW.order_id"
            " AND o.organisation_id = NEW.organisation_id AND (o.state IN ('sent', 'part')"
            " OR (o.state = 'received' AND NEW.reverses_id IS NOT NULL)))",
            "goods come in on an open order of the same organisation",
        ),
        "receipt_never_edited": ("buying_receipt", "UPDATE", "1 = 1", "a receipt is kept"),
        "receipt_line_of_its_order": (
            "buying_receiptline",
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM buying_receipt r JOIN buying_purchaseorderline l ON l.order_id = r.order_id"
            " WHERE r.id = NEW.receipt_id AND l.id = NEW.order_line_id)",
            "a receipt has lines of its own order",
        ),
        "receipt_line_never_edited": ("buying_receiptline", "UPDATE", "1 = 1", "a receipt is kept"),
        "sent_workbook_never_edited": ("buying_sentworkbook", "UPDATE", "1 = 1", "what was sent is kept"),
    }


_COUNT = (
    "UPDATE buying_purchaseorderline SET "
    + ", ".join(f"{name} = {_SUM.format(name=name, line='NEW.order_line_id')}" for name in _SUMS)
    + " WHERE id = NEW.order_line_id"
)


def _sqlite(schema_editor) -> None:
    for name, (table, moment, wrong, words) in guards("IS NOT").items():
        schema_editor.execute(
            f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW WHEN {wrong}"
            f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
            params=None,
        )
    schema_editor.execute(
        f"CREATE TRIGGER receipt_line_counted AFTER INSERT ON buying_receiptline FOR EACH ROW BEGIN {_COUNT}; END",
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
    # The lock first, so that the sums are taken after whoever held it has committed.
    schema_editor.execute(
        "CREATE FUNCTION receipt_line_counted() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        " PERFORM 1 FROM buying_purchaseorderline WHERE id = NEW.order_line_id FOR NO KEY UPDATE;"
        f" {_COUNT}; RETURN NULL; END $$",
        params=None,
    )
    schema_editor.execute(
        "CREATE TRIGGER receipt_line_counted AFTER INSERT ON buying_receiptline FOR EACH ROW"
        " EXECUTE FUNCTION receipt_line_counted()",
        params=None,
    )


def add_guards(apps, schema_editor) -> None:
    {"sqlite": _sqlite, "postgresql": _postgresql}[schema_editor.connection.vendor](schema_editor)


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    tables = {name: table for name, (table, *_) in guards("IS NOT").items()}
    tables["receipt_line_counted"] = "buying_receiptline"
    for name, table in tables.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("buying", "0002_receipts")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
