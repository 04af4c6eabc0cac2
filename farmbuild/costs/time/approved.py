"""Approved hours: which are in money, which wait for a rate or for names, and how they become rows of paid time."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext, gettext_lazy

from farmbuild.costs.models import PaidTime
from farmbuild.costs.rates import PayRates
from farmbuild.costs.time.people import People
from farmbuild.costs.time.posting import Worked
from farmbuild.costs.time.worked import pieces, whole_minutes
from farmbuild.crew.actuals.hours import CrewDay, crew_day
from farmbuild.crew.hours.selectors import Hours, hours_of, other_work_of, runs_of
from farmbuild.crew.models import Actual, HourApproval, HourCorrection, OtherWork, Person
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation

#: What hours wait for whose people cannot be told.
NAMES = gettext_lazy("name the people")


def standing_of(*, organisation: Organisation) -> QuerySet[HourApproval]:
    """Approvals that count: of runs as last corrected, and of other work, none of it taken back."""
    latest = HourCorrection.objects.filter(actual=OuterRef("actual")).order_by("-pk").values("pk")[:1]
    rows = HourApproval.objects.of(organisation).annotate(latest=Subquery(latest))
    run = Q(actual__isnull=False, actual__reversed_by=None) & (
        Q(correction=F("latest")) | Q(correction=None, latest=None)
    )
    return rows.filter(run | Q(other__isnull=False, other__removed_at=None)).order_by("pk")


def not_in_money_of(*, organisation: Organisation) -> QuerySet[HourApproval]:
    paid = PaidTime.objects.net().filter(approval=OuterRef("pk"))
    return standing_of(organisation=organisation).filter(~Exists(paid))


@dataclass(frozen=True)
class ApprovedHours:
    """What one approval is of. ``people``: who was at it, none where somebody has to name them; ``guess``: whom
    the form begins with then."""

    approval: HourApproval
    record: Actual | OtherWork
    hours: Hours
    crew_day: CrewDay
    people: Sequence[Person]
    guess: Sequence[Person] = ()

    @property
    def day(self) -> date:
        return self.record.day

    @property
    def house(self) -> Any:
        return self.record.house if isinstance(self.record, OtherWork) else self.record.task.house

    @property
    def step(self) -> str:
        return "" if isinstance(self.record, OtherWork) else self.record.task.kind

    @property
    def what(self) -> str:
        return self.record.what if isinstance(self.record, OtherWork) else ""

    @property
    def work(self) -> str:
        return self.what or self.record.task.get_kind_display()

    @cached_property
    def minutes(self) -> int:
        return whole_minutes(self.hours.minutes)

    @property
    def times(self) -> tuple[datetime, datetime] | None:
        return _times(self.record, self.minutes)

    def worked(self, people: Iterable[Person]) -> list[Worked]:
        starts, ends = self.times or (None, None)
        split = pieces(minutes=self.minutes, day=self.crew_day, starts=starts, ends=ends)
        return [
            Worked(
                person=person,
                day=self.day,
                house=self.house,
                step=self.step,
                what=self.what,
                pieces=split,
                approval=self.approval,
            )
            for person in people
        ]


def _times(record: Actual | OtherWork, minutes: int) -> tuple[datetime, datetime] | None:
    """As pressed; as corrected it lasted from the same start. None where no clock was pressed."""
    if isinstance(record, OtherWork) or record.minutes is not None or record.started_at is None:
        return None
    if record.latest is None:
        return record.started_at, max(record.stopped_at, record.started_at + timedelta(seconds=1))
    return record.started_at, record.started_at + timedelta(minutes=minutes)


def approved_hours(*, organisation: Organisation, approvals: Sequence[HourApproval]) -> list[ApprovedHours]:
    """All of them, in few queries however many they are."""
    runs = {
        run.pk: run
        for run in runs_of(organisation=organisation)
        .filter(pk__in=[one.actual_id for one in approvals if one.actual_id])
        .select_related("task__house", "person", "crew__week", "by")
        .prefetch_related("crew__week__hours")
    }
    work = {
        row.pk: row
        for row in other_work_of(organisation=organisation)
        .filter(pk__in=[one.other_id for one in approvals if one.other_id])
        .select_related("crew__week")
        .prefetch_related("crew__week__hours")
    }
    zone = zone_of(organisation=organisation)
    people = People(organisation, [row.day for row in (*runs.values(), *work.values())])
    found = []
    for one in approvals:
        record = work[one.other_id] if one.other_id else runs[one.actual_id]
        hours = Hours(Decimal(record.minutes), record.people) if one.other_id else hours_of(record)
        of_run = {"person": record.person_id, "crew": record.crew_id, "day": record.day, "count": hours.people}
        there = people.at(**of_run)
        day = crew_day(crew=record.crew, day=record.day, zone=zone)
        times = _times(record, whole_minutes(hours.minutes))
        found.append(ApprovedHours(one, record, hours, day, there, there or people.guess(**of_run, times=times)))
    return found


def why_not(hours: ApprovedHours, rates: PayRates) -> str:
    """Why they are not in money yet, in a few words; empty where they can be."""
    if not hours.people:
        return NAMES
    missing = [str(person) for person in hours.people if rates.of(person, hours.day) is None]
    return gettext("no pay rate of %(missing)s") % {"missing": missing[0]} if missing else ""


def ready(found: Collection[ApprovedHours], rates: PayRates) -> list[ApprovedHours]:
    return [one for one in found if not why_not(one, rates)]
