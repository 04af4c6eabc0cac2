"""The schema editor of ``farmbuild.common.sqlite`` on a small database of its own: no trigger is lost in silence."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, OperationalError, connections, migrations, models
from django.db.migrations.state import ProjectState

TABLES = (
    migrations.CreateModel("Place", [("id", models.BigAutoField(primary_key=True)), ("name", models.TextField())]),
    migrations.CreateModel(
        "Lot",
        [
            ("id", models.BigAutoField(primary_key=True)),
            ("pieces", models.IntegerField()),
            ("held", models.IntegerField(default=0)),
            ("note", models.TextField(default="")),
            ("place", models.ForeignKey("yard.Place", models.PROTECT, null=True)),
        ],
    ),
    migrations.CreateModel(
        "Hold",
        [
            ("id", models.BigAutoField(primary_key=True)),
            ("lot", models.ForeignKey("yard.Lot", models.PROTECT)),
            ("pieces", models.IntegerField()),
        ],
    ),
)
HELD = "(SELECT coalesce(sum(h.pieces), 0) FROM yard_hold h WHERE h.lot_id = {lot}.id)"
#: In another order than that of their names.
TRIGGERS = {
    "place_stays": "BEFORE UPDATE ON yard_place FOR EACH ROW BEGIN SELECT RAISE(ABORT, 'place_stays'); END",
    "lot_held_is_true": "BEFORE UPDATE ON yard_lot FOR EACH ROW"
    f" WHEN NEW.held <> OLD.held AND NEW.held <> {HELD.format(lot='NEW')}"
    " BEGIN SELECT RAISE(ABORT, 'lot_held_is_true: 100% of yard_lot'); END",
    "hold_counted": "AFTER INSERT ON yard_hold FOR EACH ROW BEGIN"
    f" UPDATE yard_lot SET held = {HELD.format(lot='yard_lot')} WHERE id = NEW.lot_id; END",
    "hold_is_there": "BEFORE INSERT ON yard_hold FOR EACH ROW"
    " WHEN NOT EXISTS (SELECT 1 FROM yard_lot l WHERE l.id = NEW.lot_id AND l.held + NEW.pieces <= l.pieces)"
    " BEGIN SELECT RAISE(ABORT, 'hold_is_there'); END",
}


class Yard:
    """A database with rows, guards that name each other's tables, and the state of its models."""

    def __init__(self, connection) -> None:
        self.connection, self.state = connection, ProjectState()
        self.migrate(*TABLES)
        self.migrate(*(migrations.RunSQL(f"CREATE TRIGGER {name} {rest}") for name, rest in TRIGGERS.items()))
        self.sql("INSERT INTO yard_place (id, name) VALUES (1, 'rack')")
        self.sql("INSERT INTO yard_lot (id, pieces, held, note, place_id) VALUES (1, 10, 0, '', 1)")
        self.sql("INSERT INTO yard_hold (lot_id, pieces) VALUES (1, 4)")

    def migrate(self, *operations, atomic: bool = True) -> None:
        made = type("Migration", (migrations.Migration,), {"operations": operations, "atomic": atomic})
        with self.connection.schema_editor(atomic=atomic) as editor:
            self.state = made("0001", "yard").apply(self.state.clone(), editor)

    def sql(self, statement: str) -> list[tuple]:
        with self.connection.cursor() as cursor:
            cursor.execute(statement)
            return cursor.fetchall()

    def triggers(self) -> list[tuple[str, str]]:
        """Those of each table in their order, in which SQLite runs them."""
        return self.sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY tbl_name, rowid")

    def all(self) -> list[tuple]:
        return self.sql("SELECT type, name, sql FROM sqlite_master ORDER BY type, name")

    def guarded(self, hold: str = "yard_hold", lot: str = "yard_lot", of: str = "lot_id", pieces: str = "pieces"):
        """Every guard does its work, whatever its tables and columns are called now."""
        # Tables made anew have no default of the database, so rows are copied.
        others = ", ".join(name for _, name, *_ in self.sql(f"PRAGMA table_info({hold})") if name not in ("id", pieces))
        more = f"INSERT INTO {hold} ({others}, {pieces}) SELECT {others}, {{}} FROM {hold} LIMIT 1"
        with pytest.raises(IntegrityError, match="hold_is_there"):
            self.sql(more.format(7))
        self.sql(more.format(6))
        assert self.sql(f"SELECT held FROM {lot}") == [(10,)]
        assert self.sql(f"SELECT {of} FROM {hold}") == [(1,), (1,)]
        with pytest.raises(IntegrityError, match="lot_held_is_true: 100% of"):
            self.sql(f"UPDATE {lot} SET held = 3")
        with pytest.raises(IntegrityError, match="place_stays"):
            self.sql("UPDATE yard_place SET name = 'shed'")


@pytest.fixture
def yard(tmp_path, django_db_blocker):
    databases = connections.settings
    plain = {"ENGINE": "farmbuild.common.sqlite", "NAME": tmp_path / "yard.sqlite3"}
    databases["yard"] = databases["default"] | plain | {"OPTIONS": {"transaction_mode": "IMMEDIATE"}}
    with django_db_blocker.unblock():
        yield Yard(connections["yard"])
        connections["yard"].close()
    del connections["yard"], databases["yard"]


COUNT = models.PositiveIntegerField(default=0)
NOT_NEGATIVE = models.CheckConstraint(condition=models.Q(pieces__gte=0), name="lot_not_negative")


@pytest.mark.parametrize(
    "operations",
    [
        [migrations.AddField("lot", "added", COUNT)],
        [migrations.AddField("hold", "added", COUNT)],
        [migrations.AddField("place", "added", COUNT)],
        [migrations.AddField("lot", "added", models.IntegerField(null=True))],
        [migrations.AlterField("lot", "pieces", models.BigIntegerField())],
        [migrations.AlterField("lot", "id", models.AutoField(primary_key=True))],
        [migrations.RemoveField("lot", "note")],
        [migrations.RemoveField("lot", "place")],
        [migrations.AddConstraint("lot", NOT_NEGATIVE), migrations.RemoveConstraint("lot", NOT_NEGATIVE.name)],
        [migrations.AddField(model, name, COUNT) for model, name in (("lot", "a"), ("hold", "b"), ("lot", "c"))],
        [migrations.AddField("lot", "holds", models.ManyToManyField("yard.Hold"))],
    ],
    ids=lambda operations: ", ".join(operation.describe() for operation in operations),
)  # fmt: skip
def test_every_trigger_stays_as_it_was_written(yard, operations):
    before = yard.triggers()
    assert {name for name, _ in before} == set(TRIGGERS)
    yard.migrate(*operations)
    assert yard.triggers() == before
    yard.guarded()


def test_also_where_the_migration_is_not_atomic(yard):
    before = yard.triggers()
    yard.migrate(migrations.AddField("lot", "added", COUNT), atomic=False)
    assert yard.triggers() == before
    yard.guarded()


@pytest.mark.parametrize(
    ("operation", "names"),
    [
        (migrations.RenameModel("Lot", "Stick"), {"lot": "yard_stick", "of": "lot_id"}),
        (migrations.RenameModel("Hold", "Claim"), {"hold": "yard_claim"}),
        (migrations.AlterModelTable("lot", "yard_sticks"), {"lot": "yard_sticks"}),
        (migrations.RenameField("hold", "pieces", "sticks"), {"pieces": "sticks"}),
        # A foreign key: Django makes the table anew for its new name.
        (migrations.RenameField("hold", "lot", "stick"), {"of": "stick_id"}),
    ],
    ids=lambda given: given.describe() if isinstance(given, migrations.operations.base.Operation) else "",
)
def test_triggers_follow_a_new_name(yard, operation, names):
    yard.migrate(operation)
    assert {name for name, _ in yard.triggers()} == set(TRIGGERS)
    yard.guarded(**names)


def test_a_name_is_new_and_its_table_made_anew_in_one_migration(yard):
    yard.migrate(
        migrations.RenameModel("Lot", "Stick"),
        migrations.RenameField("hold", "lot", "stick"),
        migrations.AddField("stick", "added", COUNT),
        migrations.AddField("hold", "added", COUNT),
    )
    yard.guarded(lot="yard_stick", of="stick_id")


@pytest.mark.parametrize(
    ("operation", "trigger"),
    [
        (migrations.RemoveField("hold", "pieces"), "hold_counted|lot_held_is_true"),
        # A foreign key: Django makes the table anew without it.
        (migrations.RemoveField("hold", "lot"), "lot_held_is_true"),
        (migrations.DeleteModel("Hold"), "lot_held_is_true"),
    ],
    ids=lambda given: given.describe() if isinstance(given, migrations.operations.base.Operation) else "",
)
def test_what_a_trigger_names_is_not_removed_under_it(yard, operation, trigger):
    before, rows = yard.all(), yard.sql("SELECT * FROM yard_hold")
    with pytest.raises(OperationalError, match=trigger):
        yard.migrate(migrations.AddField("lot", "added", COUNT), operation)
    assert yard.all() == before
    assert yard.sql("SELECT * FROM yard_hold") == rows
    yard.guarded()


def test_a_table_goes_with_its_own_triggers_once_no_other_names_it(yard):
    yard.migrate(migrations.RunSQL("DROP TRIGGER lot_held_is_true"), migrations.DeleteModel("Hold"))
    assert [name for name, _ in yard.triggers()] == ["place_stays"]


def test_a_trigger_that_the_migration_makes_anew_is_the_new_one(yard):
    anew = "CREATE TRIGGER hold_is_there BEFORE INSERT ON yard_hold BEGIN SELECT RAISE(ABORT, 'nothing is held'); END"
    yard.migrate(
        migrations.AddField("lot", "added", COUNT),
        migrations.RunSQL(f"DROP TRIGGER hold_is_there; {anew};"),
        migrations.RemoveField("lot", "place"),
    )
    assert dict(yard.triggers())["hold_is_there"] == anew
    assert {name for name, _ in yard.triggers()} == set(TRIGGERS)


def fail(apps, schema_editor):
    raise RuntimeError("in the middle")


def test_a_failure_in_the_middle_leaves_all_as_it_was(yard):
    before = yard.all()
    with pytest.raises(RuntimeError, match="in the middle"):
        yard.migrate(
            migrations.AddField("lot", "added", COUNT),
            migrations.RenameField("hold", "lot", "stick"),
            migrations.RunPython(fail),
        )
    assert yard.all() == before
    assert yard.sql("PRAGMA legacy_alter_table") == [(0,)]
    yard.guarded()


@pytest.mark.parametrize("atomic", [True, False])
def test_rows_that_do_not_fit_leave_all_as_it_was(yard, atomic):
    before = yard.all()
    many = models.CheckConstraint(condition=models.Q(pieces__gte=11), name="lot_of_eleven")
    with pytest.raises(IntegrityError, match="lot_of_eleven"):
        yard.migrate(migrations.AddConstraint("lot", many), atomic=atomic)
    assert yard.all() == before
    assert yard.sql("PRAGMA legacy_alter_table") == [(0,)]
    yard.guarded()


def test_to_show_the_sql_changes_nothing(yard):
    before, state = yard.all(), yard.state.clone()
    operation = migrations.AddField("lot", "added", COUNT)
    operation.state_forwards("yard", state)
    with yard.connection.schema_editor(collect_sql=True) as editor:
        operation.database_forwards("yard", editor, yard.state, state)
    assert yard.all() == before
    shown = "\n".join(editor.collected_sql)
    for name, rest in TRIGGERS.items():
        of_the_table = "ON yard_lot" in rest
        assert (f'DROP TRIGGER "{name}";' in shown) is of_the_table
        assert (f"CREATE TRIGGER {name} {rest}" in shown) is of_the_table
    assert yard.sql("PRAGMA legacy_alter_table") == [(0,)]
