"""A plan that is accepted again orders again what was cancelled when it was released."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("buying", "0004_reserved"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="purchaseorder", name="one_order_a_supplier_and_plan"),
        migrations.AddConstraint(
            model_name="purchaseorder",
            constraint=models.UniqueConstraint(
                condition=~Q(state="cancelled"),
                fields=("plan", "supplier"),
                name="one_order_a_supplier_and_plan",
            ),
        ),
    ]
