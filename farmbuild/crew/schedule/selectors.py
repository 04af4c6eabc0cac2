"""Reads of schedules and of the tasks that people follow."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from farmbuild.common.compiled import compiled_once
from farmbuild.crew.models import Crew, DayOff, Kind, Schedule, Task
from farmbuild.hoops.batches.models import BatchHouse
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House


def schedules_of(*, organisation: Organisation) -> QuerySet[Schedule]:
    return Schedule.objects.of(organisation).select_related("organisation", "created_by")


def published_since(*, schedule: Schedule) -> int | None:
    """Number of another schedule that was published after this one was asked for, or that is newer and published."""
    rows = Schedule.objects.of(schedule.organisation).filter(published_at__isnull=False).exclude(pk=schedule.pk)
    since = Q(number__gt=schedule.number) | Q(published_at__gt=schedule.created_at)
    return rows.filter(since).values_list("number", flat=True).first()


def published_before(*, schedule: Schedule) -> int | None:
    """Number of the schedule that people followed when this one was asked for."""
    rows = Schedule.objects.of(schedule.organisation).filter(published_at__lt=schedule.created_at)
    return rows.order_by("-published_at").values_list("number", flat=True).first()


def latest_published(*, organisation: Organisation) -> Schedule | None:
    """Without what it was worked out from."""
    rows = schedules_of(organisation=organisation).filter(published_at__isnull=False)
    return rows.defer("inputs", "seen").first()


def shifts_by_crew(*, organisation: Organisation) -> dict[int, dict[int, list[tuple[time, time]]]]:
    """First and last hour of each shift, rising, by crew and day of the week (0 is Monday)."""
    found: dict[int, dict[int, list[tuple[time, time]]]] = {}
    for crew, day, starts, ends in _shifts(organisation.pk):
        shifts = found.setdefault(crew, {})
        if day is not None:
            shifts.setdefault(day, []).append((starts, ends))
    return found


@compiled_once
def _shifts(organisation: int) -> QuerySet[Crew]:
    """Of each crew, with None for one whose week has no hours."""
    rows = Crew.objects.filter(week__organisation=organisation)
    in_order = rows.order_by("week__name", "week", "name", "pk", "week__hours__day", "week__hours__starts")
    return in_order.values_list("pk", "week__hours__day", "week__hours__starts", "week__hours__ends")


def closed_days(*, organisation: Organisation) -> list[tuple[date, date]]:
    """First and last of the days off of everybody."""
    return _closed_days(organisation.pk)


@compiled_once
def _closed_days(organisation: int) -> QuerySet[DayOff]:
    return DayOff.objects.filter(organisation_id=organisation, person=None).values_list("first", "last")


def tasks_of(*, organisation: Organisation) -> QuerySet[Task]:
    """Tasks of houses that are not archived, with house, site, crew and bender."""
    return tasks_of_key(organisation.pk)


def tasks_of_key(organisation: int) -> QuerySet[Task]:
    """The same, by the key of the organisation."""
    rows = Task.objects.filter(organisation_id=organisation)
    rows = rows.filter(house__archived_at=None, house__site__archived_at=None)
    return rows.select_related("house__site", "crew", "bender").order_by("starts_at", "house__name", "position", "pk")


def tasks_with_due(*, organisation: Organisation) -> QuerySet[Task]:
    """Those that are not done, with their house and when it should stand."""
    return tasks_of(organisation=organisation).exclude(state=Task.State.DONE).select_related("house__work")


def between(rows: QuerySet[Task], first: date, days: int, zone: ZoneInfo) -> QuerySet[Task]:
    """Tasks that are under way in any of ``days`` days of the calendar from ``first``."""
    return under_way(rows, midnight(first, zone), midnight(first + timedelta(days=days), zone))


def under_way(rows: QuerySet[Task], begin: datetime, end: datetime) -> QuerySet[Task]:
    """Tasks of which a part lies between these moments."""
    return rows.filter(starts_at__lt=end, ends_at__gt=begin)


def midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone)


def progress_of(*, organisation: Organisation) -> QuerySet[House]:
    """Houses with tasks, each with ``task_count``, ``tasks_done``, ``hoops_bent``, ``hoops_wanted`` and whether it is
    ``set_done``, ``sighted`` and ``covered`` (counts of done tasks of that kind).

    Hoops bent are counted by batch; a batch for several houses counts for each by its share.
    """
    shares = (
        BatchHouse.objects.filter(house=OuterRef("pk"))
        .order_by()
        .values("house")
        .annotate(
            wanted=Sum("hoops"),
            bent=Sum(Coalesce("batch__hoops_bent", 0) * 1.0 * Coalesce("hoops", 0) / Coalesce("batch__quantity", 1)),
        )
    )
    done = Q(tasks__state=Task.State.DONE)
    rows = House.objects.of(organisation).filter(archived_at=None, site__archived_at=None, tasks__isnull=False)
    return (
        rows.select_related("site")
        .annotate(
            task_count=Count("tasks", distinct=True),
            tasks_done=Count("tasks", done, distinct=True),
            set_done=Count("tasks", done & Q(tasks__kind=Kind.SET), distinct=True),
            sighted=Count("tasks", done & Q(tasks__kind=Kind.SIGHT), distinct=True),
            covered=Count("tasks", done & Q(tasks__kind=Kind.FILM), distinct=True),
            hoops_wanted=Subquery(shares.values("wanted")),
            hoops_bent=Subquery(shares.values("bent")),
        )
        .order_by("name", "pk")
    )


def overdue(*, organisation: Organisation, now: datetime) -> list[int]:
    """Keys of tasks whose time is over and that are not done."""
    rows = Task.objects.of(organisation).filter(ends_at__lt=now).exclude(state=Task.State.DONE)
    return list(rows.order_by("pk").values_list("pk", flat=True))


def named_tasks(*, organisation: Organisation, keys: Iterable[int]) -> dict[int, Task]:
    return {task.pk: task for task in tasks_of(organisation=organisation).filter(pk__in=list(keys))}
