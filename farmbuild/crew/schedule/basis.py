"""What a schedule rests on, in parts that can be compared and told of later, and a digest of it.

Rows stand by their keys as text, each with the names that sentences need, so that a row since removed can be named.
"""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from farmbuild.crew.bookings.selectors import COUNTS, bookings_of, kept_through
from farmbuild.crew.models import Crew, DayOff, HouseWork, Person, StepAfter, Task, Travel, WorkStep
from farmbuild.crew.people.selectors import settings_of, weeks_of
from farmbuild.crew.steps.selectors import Releases
from farmbuild.hoops.benders.models import Bender
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

Basis = dict[str, dict[str, Any]]


def rows_of(tasks: Iterable[Task]) -> list[tuple[Any, ...]]:
    """Of each task, all that ``basis_of`` and ``digest_of`` read."""
    return [
        (
            task.pk, task.house_id, task.kind, task.people, task.planned_minutes, task.not_before, task.fixed,
            task.state, task.crew_id, task.bender_id, task.starts_at, task.ends_at,
        )
        for task in tasks
    ]  # fmt: skip


def basis_of(*, organisation: Organisation, start: datetime, tasks: list[Task], releases: Releases) -> Basis:
    """``tasks`` as ``live_tasks`` gives them, ``releases`` those of their houses. The same number of queries, however
    many rows there are."""
    settings = settings_of(organisation=organisation)
    first = start.astimezone(zone_of(organisation=organisation)).date()
    houses = {task.house_id: task.house for task in tasks if task.state != Task.State.DONE}
    return {
        "settings": {"": [organisation.time_zone, settings.travel_minutes]},
        "weeks": {
            str(week.pk): [week.name, [[row.day, str(row.starts), str(row.ends)] for row in week.hours.all()]]
            for week in weeks_of(organisation=organisation)
        },
        "crews": _rows(Crew.objects.of(organisation).filter(archived_at=None), "name", "week"),
        "people": _people(organisation),
        "days_off": _days_off(organisation, first),
        "travel": _rows(Travel.objects.of(organisation), "one__name", "other__name", "minutes"),
        "benders": _benders(organisation),
        "lent": _lent(organisation, first),
        "steps": _steps(organisation),
        "houses": _houses(organisation, houses),
        "materials": _materials(releases, houses),
        "tasks": {str(row[0]): [row[1], row[2], row[3], row[4], _day(row[5]), row[6]] for row in rows_of(tasks)},
    }


def digest_of(basis: Basis, tasks: Iterable[Task], now: datetime | None = None) -> str:
    """Of the basis, of how far the tasks are and where they stand, and of which of them are overdue."""
    now = now or timezone.now()
    rows = rows_of(tasks)
    progress = [[row[0], *row[7:]] for row in rows]
    overdue = [row[0] for row in rows if row[7] != Task.State.DONE and row[11] and row[11] < now]
    content = json.dumps([basis, progress, overdue], sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(content.encode()).hexdigest()


def _rows(rows: Any, *names: str) -> dict[str, list[Any]]:
    return {str(pk): list(values) for pk, *values in rows.order_by("pk").values_list("pk", *names)}


def _day(value: date | None) -> str | None:
    return value.isoformat() if value else None


def _people(organisation: Organisation) -> dict[str, Any]:
    rows = Person.objects.of(organisation).filter(archived_at=None)
    found = _rows(rows, "name", "crew")
    skills: Mapping[str, list[str]] = defaultdict(list)
    for pk, skill in rows.filter(skills__isnull=False).order_by("skills__name").values_list("pk", "skills__name"):
        skills[str(pk)].append(skill)
    return {pk: [*row, skills[pk]] for pk, row in found.items()}


def _days_off(organisation: Organisation, first: date) -> dict[str, Any]:
    rows = DayOff.objects.of(organisation).filter(last__gte=first)
    found = _rows(rows, "person", "person__name", "first", "last")
    return {pk: [person, name, _day(begin), _day(end)] for pk, (person, name, begin, end) in found.items()}


def _benders(organisation: Organisation) -> dict[str, Any]:
    rows = Bender.objects.of(organisation).filter(archived_at=None).prefetch_related("tubes").order_by("pk")
    return {str(row.pk): [row.name, str(row.rated_radius), sorted(tube.pk for tube in row.tubes.all())] for row in rows}


def _lent(organisation: Organisation, first: date) -> dict[str, Any]:
    """Bookings of members that keep a bender from the first day on; one that is out late is gone through today."""
    today = today_of(organisation=organisation)
    found = {}
    for row in bookings_of(organisation=organisation).filter(state__in=COUNTS, member__isnull=False).order_by("pk"):
        last = kept_through(row.state, row.last, today)
        if last >= first:
            found[str(row.pk)] = [row.bender_id, row.bender.name, row.member.name, _day(row.first), _day(last)]
    return found


def _steps(organisation: Organisation) -> dict[str, Any]:
    rows = WorkStep.objects.filter(template__organisation=organisation).order_by("template", "kind")
    found: dict[str, Any] = {}
    for template, name, *step in rows.values_list("template", "template__name", "kind", "skill__name"):
        found.setdefault(str(template), [name, [], []])[1].append(step)
    waits = StepAfter.objects.filter(step__template__organisation=organisation)
    for template, *wait in waits.order_by("step__kind", "after__kind").values_list(
        "step__template", "step__kind", "after__kind", "lag_minutes"
    ):
        found[str(template)][2].append(wait)
    return found


def _houses(organisation: Organisation, houses: Mapping[int, House]) -> dict[str, Any]:
    work = {
        house: (template, _day(due))
        for house, template, due in HouseWork.objects.of(organisation).values_list("house", "template", "due")
    }
    return {
        str(pk): [
            house.name,
            house.site.name,
            *work.get(pk, (None, None)),
            [house.recipe_id, str(house.recipe.radius), house.recipe.tube_id, house.recipe.bender_id],
            house.site_id,
        ]
        for pk, house in sorted(houses.items())
    }


def _materials(releases: Releases, houses: Collection[int]) -> dict[str, Any]:
    """By house and kind of work, the day on which what it uses is on site; what waits for nothing is left out."""
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for (house, kind), day in releases.items():
        if day and house in houses:
            found[str(house)][kind] = day.isoformat()
    return dict(found)
