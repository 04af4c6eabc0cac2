"""What earlier presses say of runs: which start each stop ended, on which day and in which crew's hours.

A start that the same person pressed again before stopping is taken back, so that it does not run for ever.
"""

from collections import defaultdict
from datetime import datetime
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.db import migrations

TWICE = "Start was pressed again; the later one counts."


def _ends(apps) -> dict:
    """By crew and day of the week, when the last of its hours ends."""
    ends = {}
    hours = apps.get_model("crew", "WorkHours").objects.order_by("ends")
    crews = defaultdict(list)
    for crew, week in apps.get_model("crew", "Crew").objects.values_list("pk", "week"):
        crews[week].append(crew)
        ends[crew] = {}
    for week, day, end in hours.values_list("week", "day", "ends"):
        for crew in crews[week]:
            ends[crew][day] = end
    return ends


def _goes_past(row, start, zone, ends) -> bool:
    stop = row.stopped_at.astimezone(zone)
    if row.crew_id is None:
        return stop.date() > start.date()
    end = ends[row.crew_id].get(start.weekday())
    return end is None or stop > datetime.combine(start.date(), end, zone)


def fill(apps, schema_editor) -> None:
    Actual = apps.get_model("crew", "Actual")
    zones = dict(apps.get_model("orgs", "Organisation").objects.values_list("pk", "time_zone"))
    ends = _ends(apps)
    open_starts: dict = {}
    twice = []
    for row in Actual.objects.select_related("person", "task").order_by("pk").iterator():
        zone = ZoneInfo(zones[row.organisation_id])
        who = (row.task_id, row.person_id)
        row.crew_id = (row.person and row.person.crew_id) or row.task.crew_id
        start = (row.started_at or row.stopped_at or row.recorded_at).astimezone(zone)
        row.day = start.date()
        if row.started_at and row.stopped_at is None:
            if who in open_starts:
                twice.append(open_starts[who])
            open_starts[who] = row
        elif row.started_at and who in open_starts:
            row.begun_id = open_starts.pop(who).pk
        if row.started_at and row.stopped_at:
            row.late = _goes_past(row, start, zone, ends)
        row.save(update_fields=["crew", "day", "begun", "late"])
    for row in twice:
        Actual.objects.create(
            organisation_id=row.organisation_id,
            task_id=row.task_id,
            person_id=row.person_id,
            key=uuid4(),
            crew_id=row.crew_id,
            day=row.day,
            people=row.people,
            stopped_at=row.recorded_at,
            reverses_id=row.pk,
            reason=TWICE,
        )


class Migration(migrations.Migration):
    dependencies = [("crew", "0011_runs_and_taking_back")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
