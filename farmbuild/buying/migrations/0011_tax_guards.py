"""What was ordered stays from the moment it goes out: the tax of each line and of the order too."""

from django.db import migrations

_FIXED = ("organisation_id", "number", "supplier_id", "currency", "plan_id")
_OF_ORDER = ("delivery_site_id", "order_by", "need_by", "goods", "delivery", "tax", "total", "tax_percent", "note")
_OF_LINE = (
    *("order_id", "position", "material_id", "description", "supplier_code", "length", "needed", "pack", "quantity"),
    *("unit_price", "line_total", "tax", "need_by", "late_days", "delivery_site_id"),
)
_NO_DRAFT = (
    "EXISTS (SELECT 1 FROM buying_purchaseorder o WHERE o.id IN (OLD.order_id, NEW.order_id) AND o.state <> 'draft')"
)
_WORDS = "what was ordered stays"


def _guards(differs: str, of_order: tuple, of_line: tuple) -> dict:
    """Name: table, what must not be."""

    def changed(*names: str) -> str:
        return " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in names)

    return {
        "order_stays_as_sent": (
            "buying_purchaseorder",
            f"{changed(*_FIXED)} OR (OLD.state <> 'draft' AND ({changed(*of_order)}))"
            f" OR (OLD.sent_on IS NOT NULL AND ({changed('sent_on', 'sent_how')}))",
        ),
        "order_line_stays_as_ordered": ("buying_purchaseorderline", f"({changed(*of_line)}) AND {_NO_DRAFT}"),
    }


def _replace(schema_editor, of_order: tuple, of_line: tuple) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    guards = _guards("IS DISTINCT FROM" if postgresql else "IS NOT", of_order, of_line)
    for name, (table, wrong) in guards.items():
        if postgresql:
            # The trigger stays, and its function is another.
            schema_editor.execute(
                f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {_WORDS}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
        else:
            schema_editor.execute(f"DROP TRIGGER {name}", params=None)
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {_WORDS}'); END",
                params=None,
            )


def add_guards(apps, schema_editor) -> None:
    _replace(schema_editor, (*_OF_ORDER, "tax_included"), (*_OF_LINE, "tax_percent"))


def remove_guards(apps, schema_editor) -> None:
    _replace(schema_editor, _OF_ORDER, _OF_LINE)


class Migration(migrations.Migration):
    dependencies = [("buying", "0010_tax_of_a_line")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
