"""Reads of one person's day."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.db.models import Prefetch, QuerySet

from farmbuild.common.compiled import compiled_once
from farmbuild.crew.models import Actual, Person, Task
from farmbuild.crew.problems.selectors import with_photos
from farmbuild.crew.schedule.selectors import midnight, tasks_of_key, under_way
from farmbuild.crew.wind.notes import KINDS, WindNote
from farmbuild.crew.wind.selectors import wind_notes
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

WINDY = frozenset().union(*KINDS.values())


def day_of(*, organisation: Organisation, person: Person, day: date) -> list[Task]:
    """What the person's crew does on that day, in order, with what is kept of it."""
    if person.crew_id is None:
        return []
    return _tasks_of_crew(organisation.pk, person.crew_id, *_bounds(organisation, day))


def planned_on(*, organisation: Organisation, person: Person, day: date) -> list[Task]:
    """The same tasks, without what is kept of them."""
    if person.crew_id is None:
        return []
    return _planned(organisation.pk, person.crew_id, *_bounds(organisation, day))


def _bounds(organisation: Organisation, day: date) -> tuple[datetime, datetime]:
    zone = zone_of(organisation=organisation)
    return midnight(day, zone), midnight(day + timedelta(days=1), zone)


def _tasks(organisation: int, crew: int, begin: datetime, end: datetime) -> QuerySet[Task]:
    return under_way(tasks_of_key(organisation), begin, end).filter(crew_id=crew)


_planned = compiled_once(_tasks)


@compiled_once
def _tasks_of_crew(organisation: int, crew: int, begin: datetime, end: datetime) -> QuerySet[Task]:
    pressed = Actual.objects.select_related("person", "by", "settled", "reversed_by")
    kept = Prefetch("actuals", pressed.prefetch_related(with_photos()).order_by("pk"))
    return _tasks(organisation, crew, begin, end).prefetch_related(kept)


def crew_names(*, organisation: Organisation, person: Person) -> list[str]:
    return _names_in_crew(organisation.pk, person.crew_id) if person.crew_id else []


@compiled_once
def _names_in_crew(organisation: int, crew: int) -> QuerySet[Person]:
    rows = Person.objects.filter(organisation_id=organisation, archived_at=None, crew_id=crew)
    return rows.order_by("name").values_list("name", flat=True)


def wind_of(*, organisation: Organisation, day: date, tasks: list[Task]) -> list[WindNote]:
    """What was entered of the wind, at the sites of these tasks and for the kinds of work among them."""
    sites = {task.house.site_id for task in tasks if task.kind in WINDY}
    return [note for note in wind_notes(organisation=organisation, day=day) if note.site.pk in sites] if sites else []
