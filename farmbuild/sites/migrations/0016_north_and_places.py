from decimal import Decimal

import django.core.validators
from django.db import migrations, models

import farmbuild.common.fields


class Migration(migrations.Migration):
    dependencies = [
        ("sites", "0015_staggered_purlins"),
    ]

    operations = [
        migrations.AddField(
            model_name="house",
            name="across",
            field=farmbuild.common.fields.LengthField(
                blank=True,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0"))],
                verbose_name="across",
            ),
        ),
        migrations.AddField(
            model_name="house",
            name="along",
            field=farmbuild.common.fields.LengthField(
                blank=True,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0"))],
                verbose_name="along",
            ),
        ),
        migrations.AddField(
            model_name="house",
            name="ridge_turn",
            field=models.PositiveSmallIntegerField(
                blank=True,
                default=0,
                validators=[django.core.validators.MaxValueValidator(359)],
                verbose_name="ridge turned, degrees",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="corner_stake",
            field=models.CharField(
                blank=True,
                help_text="The stake at the corner of the site that houses are measured from, for example gate stake.",
                max_length=60,
                verbose_name="corner stake",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="plan_bearing",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="Stand at the corner stake with the base line to your right, look across the site and read the compass. North is 0, east 90. Empty: not known.",
                null=True,
                validators=[django.core.validators.MaxValueValidator(359)],
                verbose_name="compass bearing across the site",
            ),
        ),
        migrations.AddField(
            model_name="site",
            name="walkway",
            field=farmbuild.common.fields.LengthField(
                blank=True,
                help_text="Houses nearer than this are named. Empty: 3'.",
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0"))],
                verbose_name="walkway between houses",
            ),
        ),
        migrations.AddConstraint(
            model_name="house",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("across", None), ("along", None)),
                    models.Q(
                        ("across__gte", 0), ("across__isnull", False), ("along__gte", 0), ("along__isnull", False)
                    ),
                    _connector="OR",
                ),
                name="house_placed_both_ways",
            ),
        ),
        migrations.AddConstraint(
            model_name="house",
            constraint=models.CheckConstraint(condition=models.Q(("ridge_turn__lt", 360)), name="ridge_turn_in_turn"),
        ),
        migrations.AddConstraint(
            model_name="site",
            constraint=models.CheckConstraint(
                condition=models.Q(("plan_bearing", None), ("plan_bearing__lt", 360), _connector="OR"),
                name="plan_bearing_in_turn",
            ),
        ),
        migrations.AddConstraint(
            model_name="site",
            constraint=models.CheckConstraint(
                condition=models.Q(("walkway", None), ("walkway__gte", 0), _connector="OR"),
                name="walkway_not_below_zero",
            ),
        ),
    ]
