"""A plan may try a change of its houses, and small changes that save are looked for once a plan."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("orgs", "0013_languages"),
        ("plans", "0004_from_common"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="plan",
            name="tried",
            field=models.JSONField(editable=False, null=True),
        ),
        migrations.CreateModel(
            name="PlanSavings",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "state",
                    models.CharField(
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
                ("steps_done", models.PositiveIntegerField(default=0, editable=False)),
                ("steps", models.PositiveIntegerField(default=0, editable=False)),
                ("step_note", models.CharField(blank=True, editable=False, max_length=200)),
                ("problem", models.TextField(blank=True, editable=False)),
                ("worker", models.CharField(blank=True, editable=False, max_length=32)),
                ("heard_from_at", models.DateTimeField(editable=False, null=True)),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("found", models.JSONField(editable=False, null=True)),
                ("without_buying", models.JSONField(editable=False, null=True)),
                (
                    "created_by",
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
                (
                    "plan",
                    models.OneToOneField(
                        editable=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="savings",
                        to="plans.plan",
                    ),
                ),
            ],
            options={
                "verbose_name": "search for savings",
                "verbose_name_plural": "searches for savings",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True), ("found__isnull", False), _connector="OR"
                        ),
                        name="savings_ready_has_found",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "failed"), _negated=True),
                            models.Q(("problem", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="savings_stopped_says_why",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("heard_from_at__isnull", False),
                                ("state", "working"),
                                models.Q(("worker", ""), _negated=True),
                            ),
                            models.Q(models.Q(("state", "working"), _negated=True), ("worker", "")),
                            _connector="OR",
                        ),
                        name="savings_looked_for_by_one",
                    ),
                ],
            },
        ),
    ]
