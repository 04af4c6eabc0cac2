"""The time zone of the work becomes that of the whole organisation."""

from django.db import migrations


def to_organisations(apps, schema_editor):
    organisations = apps.get_model("orgs", "Organisation").objects
    for row in apps.get_model("crew", "CrewSettings").objects.all():
        organisations.filter(pk=row.organisation_id).update(time_zone=row.time_zone)


def to_settings(apps, schema_editor):
    settings = apps.get_model("crew", "CrewSettings").objects
    for row in apps.get_model("orgs", "Organisation").objects.exclude(time_zone="UTC"):
        settings.update_or_create(organisation=row, defaults={"time_zone": row.time_zone})


class Migration(migrations.Migration):
    dependencies = [
        ("crew", "0008_declined_requests"),
        ("orgs", "0003_time_zone"),
    ]

    operations = [
        migrations.RunPython(to_organisations, to_settings),
        migrations.RemoveField(model_name="crewsettings", name="time_zone"),
    ]
