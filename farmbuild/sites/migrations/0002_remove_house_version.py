"""Who saved a house meanwhile is told by what the form was opened with, so saves are not counted any more."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("sites", "0001_initial")]

    operations = [migrations.RemoveField(model_name="house", name="version")]
