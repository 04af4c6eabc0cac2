"""Runs from before hours were approved: those within the crew's day are, with a note; those past it wait for a look."""

from django.db import migrations
from django.db.models import Q

NOTE = "Recorded before hours were approved, and within the crew's day."


def approve(apps, schema_editor) -> None:
    Actual, HourApproval = apps.get_model("crew", "Actual"), apps.get_model("crew", "HourApproval")
    timed = Q(started_at__isnull=False, stopped_at__isnull=False) | Q(minutes__isnull=False)
    rows = Actual.objects.filter(timed, late=False, reverses=None, reversed_by=None).order_by("pk")
    fresh = (
        HourApproval(organisation_id=owner, actual_id=pk, note=NOTE)
        for pk, owner in rows.values_list("pk", "organisation")
    )
    HourApproval.objects.bulk_create(fresh, batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("crew", "0015_hours")]

    operations = [migrations.RunPython(approve, migrations.RunPython.noop)]
