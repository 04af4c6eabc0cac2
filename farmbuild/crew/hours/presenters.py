"""What the pages of hours show, gathered once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils.timezone import localtime
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.speaking import said_short_day
from farmbuild.crew.actuals.hours import CrewDay, crew_day
from farmbuild.crew.hours import selectors
from farmbuild.crew.hours.selectors import Hours, hours_of
from farmbuild.crew.models import Actual, Crew, OtherWork
from farmbuild.measure import format_decimal, format_minutes
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

WEEK = timedelta(days=7)
TO_CORRECT, WAITS, APPROVED = _("to correct"), _("waits for approval"), _("approved")


@dataclass(frozen=True)
class Row:
    """A run, or other work, as a list shows it."""

    record: Actual | OtherWork
    work: str
    house: str
    who: str
    clock: str
    hours: Hours
    corrected: bool
    state: str

    @property
    def length(self) -> str:
        return format_minutes(round(self.hours.minutes))

    @property
    def people(self) -> int:
        return self.hours.people


@dataclass(frozen=True)
class Group:
    """A day of a crew. ``seen``: what its button approves, as the page showed it."""

    day: date
    crew: Crew | None
    rows: list[Row]

    @property
    def person_hours(self) -> str:
        return person_hours(row.hours for row in self.rows if row.state != TO_CORRECT)

    @property
    def waiting(self) -> int:
        return sum(row.state == WAITS for row in self.rows)

    @property
    def wrong(self) -> int:
        return sum(row.state == TO_CORRECT for row in self.rows)

    @property
    def seen(self) -> str:
        return " ".join(_token(row.record) for row in self.rows if row.state == WAITS)


def _token(record: Actual | OtherWork) -> str:
    return f"w{record.pk}" if isinstance(record, OtherWork) else f"r{record.pk}:{record.latest or 0}"


def read_seen(text: str) -> dict[str, list[Any]]:
    """What ``Group.seen`` wrote, for ``services.approve``; what it did not write is left out."""
    runs, other = [], []
    for token in text.split()[:2000]:
        kind, (key, _, last) = token[:1], token[1:].partition(":")
        if kind == "r" and key.isdecimal() and last.isdecimal():
            runs.append((int(key), int(last) or None))
        elif kind == "w" and key.isdecimal():
            other.append(int(key))
    return {"runs": runs, "other": other}


def person_hours(hours: Iterable[Hours]) -> str:
    """All of them summed, to a tenth."""
    return format_decimal(sum((one.person_minutes for one in hours), Decimal(0)) / 60, 1)


def run_row(run: Actual) -> Row:
    waits = TO_CORRECT if run.late and run.latest is None else WAITS
    return Row(
        record=run,
        work=run.task.get_kind_display(),
        house=str(run.task.house),
        who=str(run.person or run.by or gettext("someone")),
        clock=clock_words(run),
        hours=hours_of(run),
        corrected=run.latest is not None,
        state=str(APPROVED if run.approved else waits),
    )


def other_row(work: OtherWork) -> Row:
    return Row(
        record=work,
        work=work.what,
        house=str(work.house),
        who=str(work.person or work.by or gettext("someone")),
        clock=gettext("other work"),
        hours=Hours(Decimal(work.minutes), work.people),
        corrected=False,
        state=str(APPROVED if work.approved else WAITS),
    )


def clock_words(run: Actual) -> str:
    """Such as 10:00 to 12:30; with the day where it ends on another."""
    if run.minutes is not None:
        return gettext("hours typed")
    begun = localtime(run.started_at)
    if run.stopped_at is None:
        return gettext("since %(begun)s") % {"begun": f"{begun:%H:%M}"}
    ended = localtime(run.stopped_at)
    return gettext("%(begun)s to %(ended)s") % {"begun": f"{begun:%H:%M}", "ended": f"{ended:%H:%M}"} + (
        gettext(" on %(day)s") % {"day": said_short_day(ended.date())} if ended.date() > begun.date() else ""
    )


@dataclass(frozen=True)
class ToCorrect:
    """A run that goes past the crew's day; ``suggested``: minutes to the end of that day, None where it began after."""

    run: Actual
    clock: str
    suggested: int | None
    end: datetime

    @property
    def words(self) -> str:
        if self.suggested is None:
            return gettext("no hours of the crew then")
        return gettext("stop at %(end)s, %(suggested)s") % {
            "end": f"{localtime(self.end):%H:%M}",
            "suggested": format_minutes(self.suggested),
        }


def to_correct(run: Actual, hours: CrewDay) -> ToCorrect:
    begun = run.started_at
    suggested = round((hours.end - begun).total_seconds() / 60) if begun else hours.minutes
    return ToCorrect(run, clock_words(run), suggested if suggested > 0 else None, hours.end)


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def hours_page(*, organisation: Organisation, first: date) -> dict[str, Any]:
    """The week from ``first``, and whatever is to correct of any week."""
    zone = zone_of(organisation=organisation)
    week = {"day__gte": first, "day__lt": first + WEEK}
    rows: dict[tuple[date, int], list[Row]] = defaultdict(list)
    crews: dict[int, Crew | None] = {}
    runs = selectors.shown_runs_of(organisation=organisation).filter(**week)
    other = selectors.other_work_of(organisation=organisation).filter(**week)
    for row in [*map(run_row, runs), *map(other_row, other)]:
        crews[row.record.crew_id or 0] = row.record.crew
        rows[row.record.day, row.record.crew_id or 0].append(row)
    order = sorted(rows, key=lambda key: (key[0], str(crews[key[1]] or "")))
    groups = [Group(day, crews[crew], rows[day, crew]) for day, crew in order]
    past = selectors.to_correct_of(organisation=organisation).select_related("crew__week")
    wrong = [
        to_correct(run, crew_day(crew=run.crew, day=run.day, zone=zone))
        for run in past.prefetch_related("crew__week__hours")
    ]
    forgotten = [to_correct(run, run.hours) for run in selectors.forgotten_of(organisation=organisation)]
    return {
        "first": first,
        "last": first + WEEK - timedelta(days=1),
        "before": first - WEEK,
        "after": first + WEEK,
        "groups": groups,
        "person_hours": person_hours(row.hours for group in groups for row in group.rows if row.state != TO_CORRECT),
        "waiting": sum(group.waiting for group in groups),
        "waiting_before": selectors.waiting_before(organisation=organisation, day=first),
        "wrong": [*forgotten, *wrong],
    }


def run_page(*, organisation: Organisation, actual: Actual) -> dict[str, Any]:
    """One run, or a start that was forgotten; ``counts``: it was not taken back and can be corrected."""
    run = selectors.shown_runs_of(organisation=organisation).filter(pk=actual.pk).first()
    hours = crew_day(crew=actual.crew, day=actual.day, zone=zone_of(organisation=organisation)) if actual.day else None
    running = run is None and Actual.objects.filter(pk=actual.pk).running().exists()
    row = run_row(run) if run else None
    wrong = to_correct(run or actual, hours) if hours and (running or (row and row.state == TO_CORRECT)) else None
    minutes = wrong.suggested if wrong else row and row.hours.minutes
    first = {"hours": minutes and round(Decimal(minutes) / 60, 2), "people": row.people if row else actual.people}
    return {
        "actual": actual,
        "row": row,
        "running": running,
        "clock": clock_words(actual) if actual.started_at or actual.minutes else "",
        "wrong": wrong,
        "counts": running or run is not None,
        "initial": first | {"seen": run.latest if run else None},
        "corrections": [
            {"row": row, "length": format_minutes(row.minutes)}
            for row in actual.corrections.select_related("by", "approval__by")
        ],
        "approval": actual.approvals.filter(correction=None).select_related("by").first(),
    }


def other_work_at(*, house: House) -> list[Row]:
    """Work at the house that no step foresaw, by day."""
    return [other_row(work) for work in selectors.other_work_of(organisation=house.organisation).filter(house=house)]
