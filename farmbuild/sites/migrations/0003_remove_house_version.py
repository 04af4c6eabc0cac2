"""Who saved a house meanwhile is told by what the form was opened with, so saves are not counted any more."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("sites", "0002_house_labels_and_limits")]

    operations = [migrations.RemoveField(model_name="house", name="version")]
