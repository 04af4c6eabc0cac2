"""Each organisation gets an identity that it keeps on whichever server it is."""

from uuid import uuid4

from django.db import migrations, models


def identify(apps, schema_editor) -> None:
    for row in apps.get_model("orgs", "Organisation").objects.only("pk"):
        row.identity = uuid4()
        row.save(update_fields=["identity"])


class Migration(migrations.Migration):
    dependencies = [("orgs", "0011_recovers_tax")]

    operations = [
        migrations.AddField("organisation", "identity", models.UUIDField(editable=False, null=True)),
        migrations.RunPython(identify, migrations.RunPython.noop),
        migrations.AlterField("organisation", "identity", models.UUIDField(default=uuid4, editable=False, unique=True)),
    ]
