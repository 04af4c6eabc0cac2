"""Lengths in the names of what drafts ask for: 3,900 mm is 3.9 mm to half of the suppliers. What went out stays."""

import re

from django.db import migrations

BY_COMMA = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?= mm\b)")


def part_by_space(apps, schema_editor):
    lines = apps.get_model("buying", "PurchaseOrderLine").objects.filter(
        order__state="draft", description__contains=" mm"
    )
    for line in lines.iterator():
        said = BY_COMMA.sub(lambda found: found[0].replace(",", "\N{NARROW NO-BREAK SPACE}"), line.description)
        if said != line.description:
            line.description = said
            line.save(update_fields=["description"])


class Migration(migrations.Migration):
    dependencies = [("buying", "0011_tax_guards")]

    operations = [migrations.RunPython(part_by_space, migrations.RunPython.noop)]
