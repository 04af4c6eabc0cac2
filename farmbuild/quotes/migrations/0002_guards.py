"""What went out, and that it was accepted, stays; a house is of a live job while its job lives."""

from django.db import migrations


def _changed(*names: str) -> str:
    return " OR ".join(f"NEW.{name} <> OLD.{name}" for name in names)


_VERSION = _changed(
    *("organisation_id", "quote_id", "number", "currency", "shown", "pdf", "workbook", "sha256", "workbook_sha256"),
    *("valid_until", "sent_at", "sent_how"),
)
_CHANGE = _changed("lines", "rates", "cost", "before_tax", "tax", "total", "sha256", "what", "currency", "sent_at")
#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    "quote_version_stays_as_sent": (
        "quotes_quoteversion",
        "UPDATE",
        f"{_VERSION} OR (NEW.state <> OLD.state AND OLD.state <> 'sent')",
        "a quote stays as it was sent",
    ),
    "quote_version_never_deleted": ("quotes_quoteversion", "DELETE", "1 = 1", "a quote that was sent is kept"),
    "quote_link_ends_once": (
        "quotes_quotelink",
        "UPDATE",
        f"{_changed('version_id', 'digest', 'expires_at')} OR OLD.ended_at IS NOT NULL OR NEW.ended_at IS NULL",
        "a link ends once and stays as it was made",
    ),
    "acceptance_of_its_job": (
        "quotes_acceptance",
        "INSERT",
        "NOT EXISTS (SELECT 1 FROM quotes_quoteversion v JOIN quotes_quote q ON q.id = v.quote_id"
        " JOIN quotes_option o ON o.quote_id = q.id WHERE v.id = NEW.version_id AND o.id = NEW.option_id"
        " AND q.job_id = NEW.job_id AND q.organisation_id = NEW.organisation_id AND v.state <> 'withdrawn')",
        "what is accepted is an option of a quote of the job",
    ),
    "acceptance_never_edited": ("quotes_acceptance", "UPDATE", "1 = 1", "an acceptance is kept"),
    "acceptance_never_deleted": ("quotes_acceptance", "DELETE", "1 = 1", "an acceptance is kept"),
    "change_order_stays_as_sent": (
        "quotes_changeorder",
        "UPDATE",
        f"(OLD.state <> 'draft' AND ({_CHANGE}))"
        " OR (NEW.state <> OLD.state AND NOT (OLD.state = 'draft' AND NEW.state = 'sent')"
        " AND NOT (OLD.state = 'sent' AND NEW.state IN ('accepted', 'declined')))",
        "a change order stays as it was sent",
    ),
    "change_order_sent_never_deleted": (
        "quotes_changeorder",
        "DELETE",
        "OLD.state <> 'draft'",
        "a change order that was sent is kept",
    ),
    "bill_never_edited": ("quotes_bill", "UPDATE", "1 = 1", "a bill is kept"),
    "bill_never_deleted": ("quotes_bill", "DELETE", "1 = 1", "a bill is kept"),
    "survey_photo_never_edited": (
        "quotes_surveyphoto",
        "UPDATE",
        f"{_changed('survey_id', 'position', 'sha256', 'caption')} OR OLD.removed_at IS NOT NULL"
        " OR NEW.removed_at IS NULL",
        "a photo stays as it was added or is taken away",
    ),
    **{
        f"house_of_a_job_that_is_live_{moment.lower()}": (
            "quotes_jobhouse",
            moment,
            "NEW.live AND EXISTS (SELECT 1 FROM quotes_job j WHERE j.id = NEW.job_id"
            " AND (j.state IN ('finished', 'lost') OR j.organisation_id <> NEW.organisation_id))",
            "a house is kept for a job that is not over",
        )
        for moment in ("INSERT", "UPDATE")
    },
}


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in GUARDS.items():
        if postgresql:
            row = "OLD" if moment == "DELETE" else "NEW"
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN {row}; END $$",
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
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [("quotes", "0001_initial")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
