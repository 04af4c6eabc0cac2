import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("crew", "0013_presses_stay"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="problemphoto",
            name="added_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="problemphoto",
            name="added_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="problemphoto",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("added_at__isnull", True), ("added_by__isnull", True)),
                    models.Q(("added_at__isnull", False), ("added_by__isnull", False)),
                    _connector="OR",
                ),
                name="photo_added_by_somebody_at_a_time",
            ),
        ),
    ]
