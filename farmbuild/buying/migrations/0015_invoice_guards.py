"""An invoice is of an order that went out, has lines of it, and stays; all that follows is that it is reversed."""

from django.db import migrations

_KEPT = (
    *("organisation_id", "order_id", "supplier_id", "position", "number", "invoiced_on", "currency", "goods"),
    *("delivery", "tax", "total", "tax_included", "tax_recovered", "tax_expected", "total_off", "tax_off", "token"),
)


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in _KEPT)
    return {
        "invoice_of_a_sent_order": (
            "buying_invoice",
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM buying_purchaseorder o WHERE o.id = NEW.order_id AND o.sent_on IS NOT NULL"
            " AND o.organisation_id = NEW.organisation_id AND o.supplier_id = NEW.supplier_id"
            " AND o.currency = NEW.currency)",
            "an invoice is of an order that was sent to that supplier",
        ),
        "invoice_never_edited": (
            "buying_invoice",
            "UPDATE",
            f"OLD.reversed_at IS NOT NULL OR NEW.reversed_at IS NULL OR {changed}",
            "an invoice is kept",
        ),
        "invoice_line_of_its_order": (
            "buying_invoiceline",
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM buying_invoice i JOIN buying_purchaseorderline l ON l.order_id = i.order_id"
            " WHERE i.id = NEW.invoice_id AND l.id = NEW.order_line_id)",
            "an invoice has lines of its own order",
        ),
        "invoice_line_never_edited": ("buying_invoiceline", "UPDATE", "1 = 1", "an invoice is kept"),
        "invoice_check_never_edited": ("buying_invoicecheck", "UPDATE", "1 = 1", "what was said of an invoice is kept"),
        "cost_adjustment_never_edited": ("buying_costadjustment", "UPDATE", "1 = 1", "an adjustment is kept"),
    }


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM" if postgresql else "IS NOT").items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        else:
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
    dependencies = [("buying", "0014_invoices")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
