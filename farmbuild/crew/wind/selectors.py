"""Reads of wind: limits, forecasts, and the notes on planned work."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.models import Schedule, Task, WindForecast, WindLimit
from farmbuild.crew.wind.notes import KINDS, WindLine, WindNote, forecast_words, is_old, lines_of, note_of
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import Site


@dataclass(frozen=True)
class WindDay:
    """A day of a site with work that wind matters to, or with a forecast. ``forecast``: the one entered last."""

    site: Site
    day: date
    forecast: WindForecast | None
    old: bool
    notes: tuple[WindNote, ...]

    @property
    def over(self) -> bool:
        return any(note.over for note in self.notes)

    @property
    def warns(self) -> bool:
        """Something of it is to be seen without being asked for."""
        return any(note.warns for note in self.notes)

    @property
    def says(self) -> str:
        return forecast_words(self.forecast) if self.forecast else ""

    @property
    def who(self) -> str:
        """Who entered the forecast."""
        user = self.forecast and self.forecast.entered_by
        return user.display_name if user else gettext("someone unknown")


def limits_of(*, organisation: Organisation) -> dict[str, WindLimit]:
    """By work; a work that is not in it has no limit."""
    return {row.work: row for row in WindLimit.objects.of(organisation).select_related("set_by", "organisation")}


def published_at(*, organisation: Organisation) -> datetime | None:
    """When the schedule was that people follow now."""
    return Schedule.objects.of(organisation).aggregate(last=Max("published_at"))["last"]


def typed_at(*, organisation: Organisation) -> datetime | None:
    """When a forecast or a limit was last entered."""
    forecast = WindForecast.objects.of(organisation).aggregate(last=Max("entered_at"))["last"]
    limit = WindLimit.objects.of(organisation).aggregate(last=Max("set_at"))["last"]
    return max((at for at in (forecast, limit) if at), default=None)


def _local_days(starts: datetime, ends: datetime, zone: ZoneInfo, first: date, last: date) -> list[date]:
    """Days from ``first`` to ``last`` that the task touches; one that ends at midnight does not touch the next day."""
    begin = starts.astimezone(zone).date()
    until = max(begin, (ends.astimezone(zone) - timedelta(microseconds=1)).date()) if ends > starts else begin
    begin, until = max(begin, first), min(until, last)
    return [begin + timedelta(days=n) for n in range((until - begin).days + 1)]


def _tasks(organisation: Organisation, zone: ZoneInfo, first: date, last: date) -> QuerySet[Task]:
    begin = datetime.combine(first, time.min, tzinfo=zone)
    end = datetime.combine(last + timedelta(days=1), time.min, tzinfo=zone)
    kinds = frozenset().union(*KINDS.values())
    rows = Task.objects.of(organisation).filter(kind__in=kinds, starts_at__lt=end).exclude(state=Task.State.DONE)
    touches = Q(ends_at__gt=begin) | Q(starts_at__gte=begin)
    return rows.filter(touches, house__archived_at=None, house__site__archived_at=None).order_by("house__name", "pk")


def _forecasts(organisation: Organisation, first: date, last: date) -> QuerySet[WindForecast]:
    rows = WindForecast.objects.of(organisation).filter(day__range=(first, last), site__archived_at=None)
    return rows.select_related("entered_by", "organisation").order_by("entered_at", "pk")


def wind_days(*, organisation: Organisation, first: date, last: date, site: Site | None = None) -> list[WindDay]:
    """By day, then by name of the site; both days included."""
    zone, now = zone_of(organisation=organisation), timezone.now()
    tasks, entries = _tasks(organisation, zone, first, last), _forecasts(organisation, first, last)
    if site:
        tasks, entries = tasks.filter(house__site=site), entries.filter(site=site)
    forecasts = {(row.site_id, row.day): row for row in entries}
    houses: defaultdict[tuple[int, date], defaultdict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for kind, name, site_id, starts, ends in tasks.values_list(
        "kind", "house__name", "house__site", "starts_at", "ends_at"
    ):
        for day in _local_days(starts, ends, zone, first, last):
            for work, kinds in KINDS.items():
                if kind in kinds and name not in houses[site_id, day][work][-1:]:
                    houses[site_id, day][work].append(name)
    keys = forecasts.keys() | houses.keys()
    sites = {row.pk: row for row in Site.objects.of(organisation)} if keys else {}
    limits = limits_of(organisation=organisation)
    published = published_at(organisation=organisation) if forecasts else None
    found = []
    for key in keys:
        here, forecast, day = sites[key[0]], forecasts.get(key), key[1]
        given = {"site": here, "day": day, "forecast": forecast, "now": now, "published": published}
        notes = tuple(
            note_of(**given, work=work, limit=limits.get(work), houses=names)
            for work in KINDS
            if (names := houses.get(key, {}).get(work))
        )
        found.append(WindDay(here, day, forecast, forecast is not None and is_old(forecast, now), notes))
    return sorted(found, key=lambda row: (row.day, row.site.name, row.site.pk))


def wind_notes(*, organisation: Organisation, day: date, site: Site | None = None) -> list[WindNote]:
    """Of film and ladder work planned on ``day`` by the organisation's calendar; empty where none is planned.

    Other pages show them with ``{% include "crew/wind/notes.html" with notes=... %}``.
    """
    days = wind_days(organisation=organisation, first=day, last=day, site=site)
    return [note for row in days for note in row.notes]


def wind_lines(*, organisation: Organisation, first: date, last: date) -> dict[date, list[WindLine]]:
    """The short form, by day; both days included.

    Pages show it with ``{% include "crew/wind/lines.html" with lines=... %}``.
    """
    notes: defaultdict[date, list[WindNote]] = defaultdict(list)
    for row in wind_days(organisation=organisation, first=first, last=last):
        notes[row.day] += row.notes
    return {day: lines_of(found) for day, found in notes.items()}


def notes_of(*, organisation: Organisation, tasks: Iterable[Task]) -> dict[int, list[WindNote]]:
    """By key of the task, for each day that it touches; those without film or ladder work are left out.

    ``tasks`` come with their house. The notes of a task name no houses: it is the work of one.
    """
    zone = zone_of(organisation=organisation)
    windy = {
        task.pk: (task, _local_days(task.starts_at, task.ends_at, zone, date.min, date.max))
        for task in tasks
        if task.starts_at and task.state != Task.State.DONE and any(task.kind in kinds for kinds in KINDS.values())
    }
    if not windy:
        return {}
    touched = [day for _, days in windy.values() for day in days]
    rows = wind_days(organisation=organisation, first=min(touched), last=max(touched))
    by_key = {(row.site.pk, row.day): row.notes for row in rows}
    return {
        pk: [
            replace(note, houses="")
            for day in days
            for note in by_key.get((task.house.site_id, day), ())
            if task.kind in KINDS[note.work]
        ]
        for pk, (task, days) in windy.items()
    }
