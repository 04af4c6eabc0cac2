from decimal import Decimal

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import farmbuild.common.fields


class Migration(migrations.Migration):
    dependencies = [
        ("catalogue", "0008_price_lists"),
        ("orgs", "0010_two_people"),
        ("sites", "0016_north_and_places"),
        ("stock", "0010_loan_back_by"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="ImportLot",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("row", models.PositiveIntegerField()),
                ("reference", models.CharField(max_length=40)),
                (
                    "length",
                    farmbuild.common.fields.LengthField(
                        null=True, validators=[django.core.validators.MinValueValidator(Decimal("0"))]
                    ),
                ),
                ("offcut", models.BooleanField()),
                ("place", models.CharField(max_length=80)),
                ("unit_cost", models.DecimalField(decimal_places=4, default=Decimal("0"), max_digits=14)),
                ("received_on", models.DateField()),
                ("quantity", models.PositiveIntegerField()),
            ],
            options={
                "ordering": ["row"],
            },
        ),
        migrations.AddField(
            model_name="importdraft",
            name="confirmed_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="day",
            field=models.DateField(editable=False, null=True),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="file",
            field=models.BinaryField(null=True),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="heard_from_at",
            field=models.DateTimeField(editable=False, null=True),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="prepared",
            field=models.PositiveIntegerField(default=0, editable=False),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="problem",
            field=models.TextField(blank=True, editable=False),
        ),
        # A file that was read before is ready; one that comes from now on waits.
        migrations.AddField(
            model_name="importdraft",
            name="state",
            field=models.CharField(
                choices=[
                    ("waiting", "Waiting"),
                    ("working", "Being worked out"),
                    ("ready", "Worked out"),
                    ("failed", "Stopped"),
                ],
                default="ready",
                editable=False,
                max_length=8,
            ),
        ),
        migrations.AlterField(
            model_name="importdraft",
            name="state",
            field=models.CharField(
                choices=[
                    ("waiting", "Waiting"),
                    ("working", "Being worked out"),
                    ("ready", "Worked out"),
                    ("failed", "Stopped"),
                ],
                default="waiting",
                editable=False,
                max_length=8,
            ),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="step_note",
            field=models.CharField(blank=True, editable=False, max_length=200),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="steps",
            field=models.PositiveIntegerField(default=0, editable=False),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="steps_done",
            field=models.PositiveIntegerField(default=0, editable=False),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="stored_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="importdraft",
            name="worker",
            field=models.CharField(blank=True, editable=False, max_length=32),
        ),
        migrations.AlterField(
            model_name="importdraft",
            name="bad_rows",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AlterField(
            model_name="importdraft",
            name="rows",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddConstraint(
            model_name="importdraft",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("state", "failed"), _negated=True),
                    models.Q(("problem", ""), _negated=True),
                    _connector="OR",
                ),
                name="import_stopped_says_why",
            ),
        ),
        migrations.AddConstraint(
            model_name="importdraft",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(
                        ("heard_from_at__isnull", False), ("state", "working"), models.Q(("worker", ""), _negated=True)
                    ),
                    models.Q(models.Q(("state", "working"), _negated=True), ("worker", "")),
                    _connector="OR",
                ),
                name="import_worked_on_by_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="importdraft",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("stored_at__isnull", True),
                    models.Q(("confirmed_at__isnull", False), ("state", "ready")),
                    _connector="OR",
                ),
                name="import_stored_was_confirmed",
            ),
        ),
        migrations.AddField(
            model_name="importlot",
            name="draft",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="lots", to="stock.importdraft"
            ),
        ),
        migrations.AddField(
            model_name="importlot",
            name="material",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                on_delete=django.db.models.deletion.DO_NOTHING,
                related_name="+",
                to="catalogue.material",
            ),
        ),
        migrations.AddField(
            model_name="importlot",
            name="site",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.DO_NOTHING,
                related_name="+",
                to="sites.site",
            ),
        ),
        migrations.AddField(
            model_name="importlot",
            name="supplier",
            field=models.ForeignKey(
                db_constraint=False,
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.DO_NOTHING,
                related_name="+",
                to="catalogue.supplier",
            ),
        ),
        migrations.AddConstraint(
            model_name="importlot",
            constraint=models.UniqueConstraint(fields=("draft", "row"), name="import_lot_once_a_row"),
        ),
    ]
