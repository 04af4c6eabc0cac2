"""What a schedule rests on, and the day before which a task does not start."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("crew", "0006_moves_and_sign_ins")]

    operations = [
        migrations.AddField("schedule", "seen", models.JSONField(editable=False, null=True)),
        migrations.AddField("task", "not_before", models.DateField(blank=True, null=True, verbose_name="not before")),
    ]
