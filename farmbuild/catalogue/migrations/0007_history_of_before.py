"""What offers say on the day of the upgrade is where their history begins."""

from django.db import migrations
from django.utils import timezone

_SAID = ("material_id", "length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as")


def keep(apps, schema_editor) -> None:
    offers = apps.get_model("catalogue", "Offer").objects.select_related("organisation").prefetch_related("breaks")
    records = apps.get_model("catalogue", "OfferRecord").objects
    today, rows = timezone.localdate(), []
    for offer in offers.order_by("pk").iterator(chunk_size=500):
        prices = sorted((row.from_quantity, row.unit_price) for row in offer.breaks.all())
        if not prices:
            continue
        rows.append(
            records.model(
                organisation_id=offer.organisation_id,
                kind="before",
                offer_key=offer.pk,
                supplier_id=offer.supplier_id,
                prices=[[amount, f"{price.normalize():f}"] for amount, price in prices],
                currency=offer.organisation.currency,
                since=today,
                **{name: getattr(offer, name) for name in _SAID},
            )
        )
    records.bulk_create(rows, batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("catalogue", "0006_history_guard")]

    operations = [migrations.RunPython(keep, migrations.RunPython.noop, elidable=False)]
