"""A credit note takes back part of one invoice of its order that stands, which is not reversed while it does."""

from django.db import migrations

_STANDING = "SELECT 1 FROM buying_invoice i WHERE i.reversed_at IS NULL"


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    return {
        "credit_of_a_standing_invoice": (
            "buying_invoice",
            "INSERT",
            f"NEW.credits_id IS NOT NULL AND NOT EXISTS ({_STANDING} AND i.id = NEW.credits_id"
            " AND i.order_id = NEW.order_id AND i.credits_id IS NULL)",
            "a credit note is of an invoice of its order that stands",
        ),
        "credit_stays_with_its_invoice": (
            "buying_invoice",
            "UPDATE",
            f"NEW.credits_id {differs} OLD.credits_id OR (NEW.reversed_at IS NOT NULL AND EXISTS ({_STANDING}"
            " AND i.credits_id = NEW.id))",
            "a credit note stays, and its invoice with it",
        ),
        "invoice_line_of_its_sign": (
            "buying_invoiceline",
            "INSERT",
            "EXISTS (SELECT 1 FROM buying_invoice i WHERE i.id = NEW.invoice_id AND CASE WHEN i.credits_id IS NULL"
            " THEN NEW.quantity < 0 OR NEW.line_total < 0 OR NEW.landed < 0"
            " ELSE NEW.quantity > 0 OR NEW.line_total > 0 END)",
            "an invoice bills and a credit note takes back",
        ),
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
    dependencies = [("buying", "0020_credit_notes")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
