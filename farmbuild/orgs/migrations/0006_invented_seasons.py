from django.db import migrations, models


def mark(apps, schema_editor):
    """The season that the demo of earlier versions entered."""
    apps.get_model("orgs", "Organisation").objects.filter(slug="larkspur-hollow").update(invented=True)


class Migration(migrations.Migration):
    dependencies = [
        ("orgs", "0005_numbers_of_the_country"),
    ]

    operations = [
        migrations.AddField(
            model_name="organisation",
            name="invented",
            field=models.BooleanField(default=False, editable=False),
        ),
        migrations.RunPython(mark, migrations.RunPython.noop),
    ]
