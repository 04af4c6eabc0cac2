"""Reads of wind: limits, forecasts, and the notes on planned work."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.utils import timezone

from farmbuild.crew.models import Task, WindForecast, WindLimit
from farmbuild.crew.people.selectors import zone_of
from farmbuild.crew.wind.notes import KINDS, WindNote, forecast_words, is_old, note_of
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
    def says(self) -> str:
        return forecast_words(self.forecast) if self.forecast else ""

    @property
    def who(self) -> str:
        """Who entered the forecast."""
        user = self.forecast and self.forecast.entered_by
        return (user.get_full_name() or user.get_username()) if user else "somebody unknown"


def limits_of(*, organisation: Organisation) -> dict[str, WindLimit]:
    """By work; a work that is not in it has no limit."""
    return {row.work: row for row in WindLimit.objects.of(organisation).select_related("set_by")}


def today_of(*, organisation: Organisation) -> date:
    return timezone.now().astimezone(zone_of(organisation=organisation)).date()


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
    return rows.select_related("entered_by").order_by("entered_at", "pk")


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
    found = []
    for key in keys:
        here, forecast, day = sites[key[0]], forecasts.get(key), key[1]
        given = {"site": here, "day": day, "forecast": forecast, "now": now}
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
