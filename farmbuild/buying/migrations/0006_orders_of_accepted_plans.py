"""Drafts of plans that are not accepted are cancelled, with a note that says so; what went out stays."""

from django.db import migrations
from django.db.models import Q
from django.utils import timezone


def cancel(apps, schema_editor):
    orders = apps.get_model("buying", "PurchaseOrder").objects.filter(state="draft", plan__isnull=False)
    not_accepted = Q(plan__accepted_at__isnull=True) | Q(plan__released_at__isnull=False)
    for pk, number in list(orders.filter(not_accepted).order_by("pk").values_list("pk", "plan__number")):
        orders.filter(pk=pk).update(
            state="cancelled",
            cancelled_at=timezone.now(),
            cancel_reason=f"plan {number} is not accepted, and only accepted plans order",
        )


class Migration(migrations.Migration):
    dependencies = [
        ("buying", "0005_one_standing_order"),
        # Sums up what each plan orders before these drafts are cancelled.
        ("plans", "0003_orders_in_figures"),
    ]

    operations = [migrations.RunPython(cancel, migrations.RunPython.noop)]
