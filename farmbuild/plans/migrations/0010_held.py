"""What houses hold is asked with who could build them; what was asked without it is asked again."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("plans", "0009_from_yard"),
    ]

    operations = [
        migrations.RemoveField(
            model_name="planfromyard",
            name="builders",
        ),
        migrations.AddField(
            model_name="planfromyard",
            name="asked",
            field=models.JSONField(default=dict, editable=False),
            preserve_default=False,
        ),
    ]
