"""How a job is billed, and what somebody says is still to come of it."""

from decimal import Decimal

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("orgs", "0011_recovers_tax"),
        ("quotes", "0004_answers_stay"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BillTerms",
            fields=[
                (
                    "job",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="bill_terms",
                        serialize=False,
                        to="quotes.job",
                    ),
                ),
                (
                    "kept_percent",
                    models.DecimalField(
                        decimal_places=3,
                        default=Decimal("0"),
                        max_digits=6,
                        validators=[
                            django.core.validators.MinValueValidator(Decimal("0"), "Type 0 or more."),
                            django.core.validators.MaxValueValidator(
                                Decimal("99.999"), "What is kept back is less than 100 percent."
                            ),
                        ],
                        verbose_name="kept back until the end, percent",
                    ),
                ),
                (
                    "pay_days",
                    models.PositiveSmallIntegerField(
                        default=30,
                        validators=[django.core.validators.MaxValueValidator(366, "Type 366 days or fewer.")],
                        verbose_name="days to pay in",
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
                "verbose_name_plural": "bill terms",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kept_percent__gte", 0), ("kept_percent__lt", 100)),
                        name="kept_back_is_a_part",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ToCome",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "amount",
                    models.DecimalField(
                        blank=True, decimal_places=3, max_digits=16, null=True, verbose_name="still to come"
                    ),
                ),
                ("reason", models.CharField(max_length=200, verbose_name="why")),
                ("at", models.DateTimeField(auto_now_add=True)),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        editable=False,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="to_come", to="quotes.job"
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
                "verbose_name_plural": "still to come",
                "ordering": ["-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__isnull", True), ("amount__gte", 0), _connector="OR"),
                        name="still_to_come_not_below_nothing",
                    )
                ],
            },
        ),
    ]
