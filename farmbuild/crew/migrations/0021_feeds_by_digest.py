"""The secret of a calendar's address is kept as its SHA-256 alone; calendars that are read go on by the same address."""

from hashlib import sha256

from django.db import migrations, models


def hash_secrets(apps, schema_editor):
    feeds = apps.get_model("crew", "CalendarFeed")
    for feed in feeds.objects.using(schema_editor.connection.alias).iterator():
        feed.digest = sha256(feed.digest.encode()).hexdigest()
        feed.save(update_fields=["digest"])


class Migration(migrations.Migration):
    dependencies = [("crew", "0020_several_organisations")]

    operations = [
        migrations.RenameField("calendarfeed", "secret", "digest"),
        migrations.AlterField("calendarfeed", "digest", models.CharField(editable=False, max_length=64, unique=True)),
        migrations.RunPython(hash_secrets, elidable=False),
    ]
