import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("crew", "0009_time_zone_of_the_organisation"),
    ]

    operations = [
        migrations.AddField(
            model_name="task",
            name="own_minutes",
            field=models.PositiveIntegerField(
                blank=True,
                null=True,
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(24000),
                ],
                verbose_name="a length of its own, in minutes on site",
            ),
        ),
        migrations.AddConstraint(
            model_name="task",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("own_minutes__isnull", True),
                    models.Q(("own_minutes__gte", 1), ("own_minutes__lte", 24000)),
                    _connector="OR",
                ),
                name="task_own_length_in_range",
            ),
        ),
    ]
