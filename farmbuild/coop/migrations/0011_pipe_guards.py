"""Pipe between members and wishes are posted once, between members of one cooperative, and never edited or deleted."""

from django.db import migrations

_KEPT = {
    "coop_pipeloan": (
        *("organisation_id", "kind", "lender_id", "borrower_id", "material_id", "length", "quantity", "price"),
        *("lot_id", "back_until", "day", "note", "asked_of_id", "at", "by_id"),
    ),
    "coop_pipereturn": (
        *("organisation_id", "loan_id", "quantity", "in_money", "price", "damaged", "lot_id", "day", "note"),
        *("asked_of_id", "at", "by_id"),
    ),
    "coop_commonwish": (
        "organisation_id",
        "offer_id",
        "member_id",
        "quantity",
        "price",
        "note",
        "made_at",
        "made_by_id",
    ),
}
_ENDED = {
    "coop_pipeloan": "OLD.back_at IS NOT NULL",
    "coop_pipereturn": "OLD.back_at IS NOT NULL",
    "coop_commonwish": "(OLD.state <> 'open' AND (NEW.state <> OLD.state OR NEW.movement_id {differs} OLD.movement_id))",
}
_WORDS = {"coop_pipeloan": "pipe", "coop_pipereturn": "pipe_return", "coop_commonwish": "wish"}
_OF_ONE = "NOT EXISTS (SELECT 1 FROM crew_member m WHERE m.id = NEW.{name} AND m.organisation_id = NEW.organisation_id)"


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    found = {}
    for table, columns in _KEPT.items():
        changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in columns)
        ended = _ENDED[table].format(differs=differs)
        found[f"{_WORDS[table]}_never_edited"] = (
            table,
            "UPDATE",
            f"{changed} OR {ended}",
            "it is posted once and taken back, never edited",
        )
        found[f"{_WORDS[table]}_never_deleted"] = (table, "DELETE", "1 = 1", "it is taken back, never deleted")
    found["pipe_of_one_cooperative"] = (
        "coop_pipeloan",
        "INSERT",
        f"{_OF_ONE.format(name='lender_id')} OR {_OF_ONE.format(name='borrower_id')}",
        "it names a member of another cooperative",
    )
    found["pipe_comes_from_the_lenders_lot"] = (
        "coop_pipeloan",
        "INSERT",
        "NEW.lot_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_lot l WHERE l.id = NEW.lot_id"
        " AND l.owner_id = NEW.lender_id)",
        "the lot is not the lender its own",
    )
    found["pipe_return_no_more_than_lent"] = (
        "coop_pipereturn",
        "INSERT",
        "NEW.quantity + (SELECT coalesce(sum(r.quantity), 0) FROM coop_pipereturn r WHERE r.loan_id = NEW.loan_id"
        " AND r.back_at IS NULL) > (SELECT p.quantity FROM coop_pipeloan p WHERE p.id = NEW.loan_id"
        " AND p.kind = 'lent' AND p.back_at IS NULL AND p.agreed_at IS NOT NULL)",
        "no more comes back than was lent",
    )
    found["wish_of_one_cooperative"] = (
        "coop_commonwish",
        "INSERT",
        f"{_OF_ONE.format(name='member_id')} OR NOT EXISTS (SELECT 1 FROM coop_commonoffer o WHERE o.id = NEW.offer_id"
        " AND o.organisation_id = NEW.organisation_id)",
        "it names a member of another cooperative",
    )
    return found


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM" if postgresql else "IS NOT").items():
        if postgresql:
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF;"
                " RETURN NEW; END $$",
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
    dependencies = [("coop", "0010_pipe_and_common_stock")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
