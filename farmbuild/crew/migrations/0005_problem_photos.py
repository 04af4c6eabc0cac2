"""Photos of problems, and how problems were put right.

What no CHECK can say, by triggers on both databases: a photo and a settlement belong to a problem of the same
organisation, and neither is edited, but that a photo is taken away once.
"""

import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.lookups
from django.conf import settings
from django.db import migrations, models

_OF_A_PROBLEM = (
    "NOT EXISTS (SELECT 1 FROM crew_actual a WHERE a.id = NEW.actual_id"
    " AND a.organisation_id = NEW.organisation_id AND a.problem <> '')"
)
_STAYS = ("organisation_id", "actual_id", "position", "sha256", "width", "height")
_CHANGED = " OR ".join(f"NEW.{name} <> OLD.{name}" for name in _STAYS)
#: Name: table, moment, what must not be, what is said then.
GUARDS = {
    "photo_of_a_problem": ("crew_problemphoto", "INSERT", _OF_A_PROBLEM, "a photo belongs to a problem"),
    "photo_never_edited": (
        "crew_problemphoto",
        "UPDATE",
        f"OLD.removed_at IS NOT NULL OR NEW.removed_at IS NULL OR {_CHANGED}",
        "a photo stays as it is or is taken away",
    ),
    "settled_of_a_problem": ("crew_problemsettled", "INSERT", _OF_A_PROBLEM, "a problem is put right"),
    "settled_never_edited": ("crew_problemsettled", "UPDATE", "1 = 1", "how a problem was put right is kept"),
}


def add_guards(apps, schema_editor) -> None:
    postgresql = schema_editor.connection.vendor == "postgresql"
    for name, (table, moment, wrong, words) in GUARDS.items():
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
    for name, (table, *_) in GUARDS.items():
        schema_editor.execute(f"DROP TRIGGER {name}{f' ON {table}' if postgresql else ''}", params=None)
        if postgresql:
            schema_editor.execute(f"DROP FUNCTION {name}()", params=None)


class Migration(migrations.Migration):
    dependencies = [
        ("crew", "0004_wind"),
        ("orgs", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ProblemPhoto",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("position", models.PositiveSmallIntegerField()),
                ("data", models.BinaryField(null=True)),
                ("thumbnail", models.BinaryField(null=True)),
                ("sha256", models.CharField(editable=False, max_length=64)),
                ("width", models.PositiveIntegerField(verbose_name="width in pixels")),
                ("height", models.PositiveIntegerField(verbose_name="height in pixels")),
                ("removed_at", models.DateTimeField(blank=True, editable=False, null=True)),
                ("removed_reason", models.CharField(blank=True, max_length=200)),
                (
                    "actual",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="photos", to="crew.actual"
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="orgs.organisation",
                    ),
                ),
                (
                    "removed_by",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["actual", "position"],
                "constraints": [
                    models.UniqueConstraint(fields=("actual", "position"), name="photo_once_an_actual_and_position"),
                    models.CheckConstraint(
                        condition=models.Q(("position__gte", 1), ("position__lte", 4)), name="photo_position_in_range"
                    ),
                    models.CheckConstraint(
                        condition=django.db.models.lookups.Exact(django.db.models.functions.text.Length("sha256"), 64),
                        name="photo_has_a_checksum",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("height__gte", 1), ("width__gte", 1)), name="photo_has_a_size"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("data__isnull", False),
                                ("removed_at__isnull", True),
                                ("removed_reason", ""),
                                ("thumbnail__isnull", False),
                            ),
                            models.Q(
                                ("data__isnull", True),
                                ("removed_at__isnull", False),
                                ("thumbnail__isnull", True),
                                models.Q(("removed_reason", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="photo_there_or_taken_away",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ProblemSettled",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("how", models.CharField(max_length=400)),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "actual",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="settled", to="crew.actual"
                    ),
                ),
                (
                    "by",
                    models.ForeignKey(
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "organisation",
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="orgs.organisation",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("how", ""), _negated=True), name="problem_settled_says_how"
                    )
                ],
            },
        ),
        migrations.RunPython(add_guards, remove_guards),
    ]
