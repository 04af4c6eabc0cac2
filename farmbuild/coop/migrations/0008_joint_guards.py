"""What members want is frozen once a joint order is closed; handouts are kept, of one organisation, and whole."""

from django.db import migrations

_ONE = (
    "NOT EXISTS (SELECT 1 FROM coop_jointorder j JOIN {table} r ON r.organisation_id = j.organisation_id"
    " WHERE j.id = NEW.joint_id AND r.id = NEW.{name}_id)"
)
_SHUT = (
    "EXISTS (SELECT 1 FROM coop_jointorder j WHERE j.id = {row}.joint_id"
    " AND (j.closed_at IS NOT NULL OR j.ended_at IS NOT NULL))"
)
_OURS = " OR ".join(_ONE.format(table=table, name=name) for table, name in {
    "crew_member": "member", "catalogue_material": "material"}.items())  # fmt: skip
_SENT = (
    "EXISTS (SELECT 1 FROM coop_jointpurchase p JOIN buying_purchaseorder o ON o.id = p.order_id"
    " WHERE p.joint_id = NEW.id AND o.state IN ('sent', 'part', 'received'))"
)
_SAME = ("organisation_id", "joint_id", "member_id", "material_id", "length")


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    same = " AND ".join(f"NOT (o.{name} {differs} NEW.{name})" for name in _SAME)
    closed = "the joint order is closed"
    return {
        "joint_need_put_in_while_open": ("coop_jointneed", "INSERT", _SHUT.format(row="NEW"), closed),
        "joint_need_changed_while_open": ("coop_jointneed", "UPDATE", _SHUT.format(row="NEW"), closed),
        "joint_need_taken_out_while_open": ("coop_jointneed", "DELETE", _SHUT.format(row="OLD"), closed),
        "joint_need_of_one_organisation": (
            "coop_jointneed",
            "INSERT",
            _OURS,
            "it names a member or a material of another organisation",
        ),
        "joint_purchase_of_one_organisation": (
            "coop_jointpurchase",
            "INSERT",
            _ONE.format(table="buying_purchaseorder", name="order"),
            "it names an order of another organisation",
        ),
        "joint_opened_again_before_it_is_sent": (
            "coop_jointorder",
            "UPDATE",
            f"OLD.closed_at IS NOT NULL AND NEW.closed_at IS NULL AND {_SENT}",
            "an order of it has been sent",
        ),
        "handout_never_edited": ("coop_handout", "UPDATE", "1 = 1", "a handout is kept; take it back"),
        "handout_never_deleted": ("coop_handout", "DELETE", "1 = 1", "a handout is kept; take it back"),
        "handout_is_its_movement": (
            "coop_handout",
            "INSERT",
            f"NOT EXISTS (SELECT 1 FROM stock_movement m JOIN stock_lot l ON l.id = m.lot_id WHERE m.id ="
            " NEW.movement_id AND m.kind = 'handout' AND m.quantity = -NEW.quantity AND l.organisation_id ="
            " NEW.organisation_id AND l.material_id = NEW.material_id"
            f" AND NOT (l.length {differs} NEW.length)) OR {_OURS}",
            "the pieces are not those that left the lot",
        ),
        "handout_taken_back_by_its_opposite": (
            "coop_handout",
            "INSERT",
            "NEW.reverses_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM coop_handout o WHERE o.id = NEW.reverses_id"
            f" AND o.reverses_id IS NULL AND o.quantity = -NEW.quantity AND {same})",
            "a handout is taken back whole, and once",
        ),
        "handout_taken_over_stays": (
            "coop_handout",
            "INSERT",
            "NEW.reverses_id IS NOT NULL AND EXISTS (SELECT 1 FROM coop_takenover t WHERE t.handout_id ="
            " NEW.reverses_id)",
            "the farm of the member has these pieces in its stock",
        ),
        "taken_over_of_a_standing_handout": (
            "coop_takenover",
            "INSERT",
            "EXISTS (SELECT 1 FROM coop_handout o WHERE o.id = NEW.handout_id AND o.reverses_id IS NOT NULL)"
            " OR EXISTS (SELECT 1 FROM coop_handout o WHERE o.reverses_id = NEW.handout_id)",
            "these pieces were taken back",
        ),
        "taken_over_never_edited": ("coop_takenover", "UPDATE", "1 = 1", "pieces taken over are kept"),
        "taken_over_never_deleted": ("coop_takenover", "DELETE", "1 = 1", "pieces taken over are kept"),
    }


def add_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM").items():
            row = "OLD" if moment == "DELETE" else "NEW"
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF; RETURN {row}; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
                params=None,
            )
        return
    for name, (table, moment, wrong, words) in guards("IS NOT").items():
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
    dependencies = [("coop", "0007_joint_orders")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
