"""Boards and film are counted in metres by those who measure in them; their rates, kept for a foot, follow."""

from decimal import ROUND_HALF_UP, Decimal

from django.db import migrations, models

_FOOT_IN_METRES, _CENT = Decimal("0.3048"), Decimal("0.01")


def _convert(apps, factor: Decimal) -> None:
    rates = apps.get_model("crew", "Rate").objects.filter(
        organisation__unit_system="metric", kind__in=["hip", "base", "film"]
    )
    for rate in rates.order_by("pk"):
        rate.minutes_each = (rate.minutes_each * factor).quantize(_CENT, ROUND_HALF_UP)
        rate.save(update_fields=["minutes_each"])


def to_metres(apps, schema_editor) -> None:
    _convert(apps, 1 / _FOOT_IN_METRES)


def to_feet(apps, schema_editor) -> None:
    _convert(apps, _FOOT_IN_METRES)


class Migration(migrations.Migration):
    dependencies = [("crew", "0018_sawing"), ("orgs", "0007_prices_include_tax")]

    operations = [
        migrations.AddField(
            model_name="task",
            name="metric",
            field=models.BooleanField(default=False, editable=False),
        ),
        migrations.RunPython(to_metres, to_feet),
    ]
