"""What a customer was sent of a change order, and answered, stays; a link is of one thing for good."""

from django.db import migrations


def _changed(*names: str) -> str:
    return " OR ".join(f"NEW.{name} <> OLD.{name} OR (NEW.{name} IS NULL) <> (OLD.{name} IS NULL)" for name in names)


_SENT = _changed("job_id", "number", "shown", "pdf", "workbook", "valid_until", "sent_how")
_ANSWER = _changed("accepted_on", "accepted_name", "accepted_at", "accepted_by_id", "accepted_how", "accepted_link_id")
#: Name: table, what must not be, what is said then.
GUARDS = {
    "change_order_shows_what_was_sent": (
        "quotes_changeorder",
        f"OLD.state <> 'draft' AND ({_SENT})",
        "a change order stays as it was sent",
    ),
    "change_order_answered_once": (
        "quotes_changeorder",
        f"OLD.state IN ('accepted', 'declined') AND ({_ANSWER})",
        "what was answered to a change order stays",
    ),
    "quote_link_of_one_thing": ("quotes_quotelink", _changed("job_id", "version_id", "change_id"), "a link stays"),
}


def add_guards(apps, schema_editor) -> None:
    for name, (table, wrong, words) in GUARDS.items():
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE UPDATE ON {table} FOR EACH ROW WHEN {wrong}"
                f" BEGIN SELECT RAISE(ABORT, '{name}: {words}'); END",
                params=None,
            )


def remove_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("quotes", "0003_links_and_answers")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
