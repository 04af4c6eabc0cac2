"""What a plan would order, kept in figures: plans that are not accepted have no orders to sum."""

from django.db import migrations, models
from django.db.models import Count, Min, Sum


def fill(apps, schema_editor):
    rows = apps.get_model("plans", "Plan").objects.filter(state="ready").order_by().values("pk")
    sums = rows.annotate(count=Count("orders"), total=Sum("orders__total"), first=Min("orders__order_by"))
    for row in list(sums):
        apps.get_model("plans", "Plan").objects.filter(pk=row["pk"]).update(
            order_count=row["count"], order_total=row["total"] or 0, first_order_by=row["first"]
        )


class Migration(migrations.Migration):
    dependencies = [
        ("buying", "0004_reserved"),
        ("plans", "0002_accepted"),
    ]

    operations = [
        migrations.AddField(
            model_name="plan",
            name="order_count",
            field=models.PositiveIntegerField(editable=False, null=True),
        ),
        migrations.AddField(
            model_name="plan",
            name="order_total",
            field=models.DecimalField(decimal_places=3, editable=False, max_digits=16, null=True),
        ),
        migrations.AddField(
            model_name="plan",
            name="first_order_by",
            field=models.DateField(editable=False, null=True),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
