from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("orgs", "0002_visitors"),
    ]

    operations = [
        migrations.AddField(
            model_name="organisation",
            name="time_zone",
            field=models.CharField(default="UTC", max_length=64),
        ),
    ]
