from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0008_used_holds"),
    ]

    operations = [
        migrations.AlterField(
            model_name="movement",
            name="kind",
            field=models.CharField(
                choices=[
                    ("receive", "Received"),
                    ("count", "Count adjustment"),
                    ("scrap", "Scrapped"),
                    ("issue", "Issued"),
                    ("return", "Returned"),
                    ("cut", "Cut"),
                    ("move", "Moved"),
                    ("lend", "Lent"),
                    ("givenback", "Loan returned"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="stockcount",
            name="blind",
            field=models.BooleanField(default=False, verbose_name="leave out the stock record"),
        ),
        migrations.AlterField(
            model_name="stockcount",
            name="state",
            field=models.CharField(
                choices=[("open", "Open"), ("posted", "Posted"), ("dropped", "Cancelled")],
                default="open",
                editable=False,
                max_length=7,
            ),
        ),
    ]
