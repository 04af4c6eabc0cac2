"""Reads of one person's day."""

from __future__ import annotations

from datetime import date

from django.db.models import Prefetch, QuerySet

from farmbuild.crew.models import Actual, Person, Task
from farmbuild.crew.people.selectors import people_of
from farmbuild.crew.problems.selectors import with_photos
from farmbuild.crew.schedule.selectors import between, tasks_of
from farmbuild.crew.wind.notes import KINDS, WindNote
from farmbuild.crew.wind.selectors import wind_notes
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

WINDY = frozenset().union(*KINDS.values())


def day_of(*, organisation: Organisation, person: Person, day: date) -> QuerySet[Task]:
    """What the person's crew does on that day, in order, with what is kept of it."""
    if person.crew_id is None:
        return Task.objects.none()
    pressed = Actual.objects.select_related("person", "by", "settled", "reversed_by")
    kept = Prefetch("actuals", pressed.prefetch_related(with_photos()).order_by("pk"))
    rows = tasks_of(organisation=organisation).filter(crew=person.crew_id).prefetch_related(kept)
    return between(rows, day, 1, zone_of(organisation=organisation))


def crew_names(*, organisation: Organisation, person: Person) -> list[str]:
    rows = people_of(organisation=organisation).filter(crew=person.crew_id, crew__isnull=False)
    return [row.name for row in rows.order_by("name")]


def wind_of(*, organisation: Organisation, day: date, tasks: list[Task]) -> list[WindNote]:
    """What was entered of the wind, at the sites of these tasks and for the kinds of work among them."""
    sites = {task.house.site_id for task in tasks if task.kind in WINDY}
    return [note for note in wind_notes(organisation=organisation, day=day) if note.site.pk in sites] if sites else []
