"""What no CHECK can say of a member's pieces: whose they are stays, and they go out by the owner or with leave alone."""

from django.db import migrations

_OWNER = "(SELECT l.owner_id FROM stock_lot l WHERE l.id = {lot})"
_OWNED = "EXISTS (SELECT 1 FROM stock_lot l WHERE l.id = NEW.lot_id AND l.owner_id IS NOT NULL)"
_LEFT = "(v.quantity + (SELECT coalesce(sum(m.quantity), 0) FROM stock_movement m WHERE m.leave_id = v.id))"
_STANDING = f"(SELECT coalesce(sum({_LEFT}), 0) FROM stock_leave v WHERE v.lot_id = NEW.lot_id AND v.ended_at IS NULL)"
_HELD = "(SELECT coalesce(sum(r.quantity), 0) FROM stock_reservation r WHERE r.lot_id = NEW.lot_id AND r.id <> NEW.id)"
_KEPT_OF_LEAVE = ("organisation_id", "lot_id", "house_id", "member_id", "told", "given_at", "given_by_id")


def guards(differs: str) -> dict[str, tuple[str, str, str, str]]:
    """Name: table, moment, what must not be, what is said then. ``differs``: how the database compares with NULL."""
    changed = " OR ".join(f"NEW.{name} {differs} OLD.{name}" for name in _KEPT_OF_LEAVE)
    wrong_owner = (
        "NEW.owner_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM crew_member c WHERE c.id = NEW.owner_id"
        " AND c.organisation_id = NEW.organisation_id)"
    )
    return {
        "lot_owner_of_one_organisation": (
            "stock_lot",
            "INSERT",
            wrong_owner,
            "it names a member of another organisation",
        ),
        "lot_owner_stays": (
            "stock_lot",
            "UPDATE",
            f"NEW.owner_id {differs} OLD.owner_id",
            "whose the pieces of a lot are stays as it is",
        ),
        "movement_of_the_owner_or_with_leave": (
            "stock_movement",
            "INSERT",
            "NEW.quantity < 0 AND NEW.reverses_id IS NULL AND NEW.kind IN ('issue', 'scrap', 'lend', 'cut', 'handout')"
            f" AND {_OWNED} AND (NEW.member_id {differs} {_OWNER.format(lot='NEW.lot_id')})"
            " AND NOT EXISTS (SELECT 1 FROM stock_leave v WHERE v.id = NEW.leave_id AND v.lot_id = NEW.lot_id"
            f" AND v.ended_at IS NULL AND {_LEFT} >= -NEW.quantity)",
            "pieces of a member go out by the owner or with leave alone",
        ),
        "movement_leave_of_its_lot": (
            "stock_movement",
            "INSERT",
            "NEW.leave_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_leave v WHERE v.id = NEW.leave_id"
            " AND v.lot_id = NEW.lot_id)",
            "the leave is for another lot",
        ),
        "movement_member_of_one_organisation": (
            "stock_movement",
            "INSERT",
            "NEW.member_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM crew_member c JOIN stock_lot l"
            " ON l.organisation_id = c.organisation_id WHERE c.id = NEW.member_id AND l.id = NEW.lot_id)",
            "it names a member of another organisation",
        ),
        "movement_moves_for_one_owner": (
            "stock_movement",
            "INSERT",
            "NEW.moved_from_id IS NOT NULL AND EXISTS (SELECT 1 FROM stock_movement o JOIN stock_lot a ON a.id = o.lot_id"
            f" JOIN stock_lot b ON b.id = NEW.lot_id WHERE o.id = NEW.moved_from_id AND a.owner_id {differs} b.owner_id)",
            "moved pieces stay with their owner",
        ),
        "cut_stays_the_owners": (
            "stock_cutpiece",
            "INSERT",
            "EXISTS (SELECT 1 FROM stock_cut c JOIN stock_lot a ON a.id = c.lot_id JOIN stock_lot b ON b.id = NEW.lot_id"
            f" WHERE c.id = NEW.cut_id AND a.owner_id {differs} b.owner_id)",
            "what is cut of a stick stays with its owner",
        ),
        "reservation_with_leave": (
            "stock_reservation",
            "INSERT",
            f"NEW.lot_id IS NOT NULL AND {_OWNED} AND {_HELD.replace(' AND r.id <> NEW.id', '')} + NEW.quantity"
            f" > {_STANDING}",
            "pieces of a member are held with leave alone",
        ),
        "reservation_stays_with_leave": (
            "stock_reservation",
            "UPDATE",
            f"NEW.lot_id IS NOT NULL AND {_OWNED} AND (NEW.lot_id {differs} OLD.lot_id OR NEW.quantity > OLD.quantity)"
            f" AND {_HELD} + NEW.quantity > {_STANDING}",
            "pieces of a member are held with leave alone",
        ),
        "leave_of_a_members_lot": (
            "stock_leave",
            "INSERT",
            "NOT EXISTS (SELECT 1 FROM stock_lot l WHERE l.id = NEW.lot_id AND l.owner_id IS NOT NULL"
            " AND l.organisation_id = NEW.organisation_id)",
            "leave is for a lot of a member of the same organisation",
        ),
        "leave_is_lowered_or_ended": (
            "stock_leave",
            "UPDATE",
            f"OLD.ended_at IS NOT NULL OR NEW.quantity > OLD.quantity OR {changed}",
            "leave is lowered or ended, and nothing else of it changes",
        ),
        "leave_never_deleted": ("stock_leave", "DELETE", "1 = 1", "leave is ended, never deleted"),
    }


def add_guards(apps, schema_editor) -> None:
    if schema_editor.connection.vendor == "postgresql":
        for name, (table, moment, wrong, words) in guards("IS DISTINCT FROM").items():
            schema_editor.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {wrong} THEN"
                f" RAISE EXCEPTION '{name}: {words}' USING ERRCODE = 'check_violation'; END IF;"
                " RETURN NEW; END $$",
                params=None,
            )
            schema_editor.execute(
                f"CREATE TRIGGER {name} BEFORE {moment} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()", params=None
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
    dependencies = [("stock", "0016_owners")]

    operations = [migrations.RunPython(add_guards, remove_guards)]
