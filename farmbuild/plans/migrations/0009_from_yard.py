"""What the yard gives is a search of its own, by day or by value; searches for savings no longer look for it."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("orgs", "0013_languages"),
        ("plans", "0008_buying"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveField(
            model_name="plansavings",
            name="without_buying",
        ),
        migrations.CreateModel(
            name="PlanFromYard",
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
                ("begun", models.PositiveSmallIntegerField(default=0, editable=False)),
                ("problem", models.TextField(blank=True, editable=False)),
                ("worker", models.CharField(blank=True, editable=False, max_length=32)),
                ("heard_from_at", models.DateTimeField(editable=False, null=True)),
                ("ends_early", models.BooleanField(default=False, editable=False)),
                (
                    "by",
                    models.CharField(
                        choices=[("day", "Most houses"), ("value", "Most value")], editable=False, max_length=5
                    ),
                ),
                ("created_at", models.DateTimeField(auto_now_add=True)),
                ("starts_at", models.DateTimeField(editable=False)),
                ("builders", models.JSONField(editable=False, null=True)),
                ("found", models.JSONField(editable=False, null=True)),
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
                    models.ForeignKey(
                        editable=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="from_yard",
                        to="plans.plan",
                    ),
                ),
            ],
            options={
                "verbose_name": "search of the yard",
                "verbose_name_plural": "searches of the yard",
                "constraints": [
                    models.UniqueConstraint(fields=("plan", "by"), name="from_yard_once_a_plan_and_way"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "ready"), _negated=True), ("found__isnull", False), _connector="OR"
                        ),
                        name="from_yard_ready_has_found",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "failed"), _negated=True),
                            models.Q(("problem", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="from_yard_stopped_says_why",
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
                        name="from_yard_worked_out_by_one",
                    ),
                ],
            },
        ),
    ]
