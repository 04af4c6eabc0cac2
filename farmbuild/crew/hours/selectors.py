"""Reads of hours: runs as the last correction left them, what waits, and what rates may learn from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from farmbuild.crew.actuals.bends import batches_at
from farmbuild.crew.actuals.hours import crew_day
from farmbuild.crew.bridge import convert_each, units_of_task
from farmbuild.crew.models import Actual, HourApproval, HourCorrection, OtherWork, Task
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation


def runs_of(*, organisation: Organisation) -> QuerySet[Actual]:
    """Runs that count, with ``latest`` (key of the last correction), its minutes and people, and ``approved``."""
    last = HourCorrection.objects.filter(actual=OuterRef("pk")).order_by("-pk")
    approvals = HourApproval.objects.filter(actual=OuterRef("pk"))
    rows = Actual.objects.of(organisation).runs()
    rows = rows.annotate(
        latest=Subquery(last.values("pk")[:1]),
        corrected_minutes=Subquery(last.values("minutes")[:1]),
        corrected_people=Subquery(last.values("people")[:1]),
    )
    as_pressed = Q(latest=None) & Q(Exists(approvals.filter(correction=None)))
    return rows.annotate(approved=Exists(approvals.filter(correction=OuterRef("latest"))) | as_pressed).order_by("pk")


def shown_runs_of(*, organisation: Organisation) -> QuerySet[Actual]:
    """``runs_of`` with all that a page tells of them."""
    return runs_of(organisation=organisation).select_related("task__house", "person", "crew", "by")


def to_correct_of(*, organisation: Organisation) -> QuerySet[Actual]:
    """Runs that go past the crew's day, and that nobody has corrected or approved."""
    return shown_runs_of(organisation=organisation).filter(late=True, latest=None, approved=False)


def waiting_before(*, organisation: Organisation, day: date) -> int:
    """Runs of earlier days that wait for approval."""
    rows = runs_of(organisation=organisation).filter(day__lt=day, approved=False)
    return rows.exclude(late=True, latest=None).count()


def forgotten_of(*, organisation: Organisation) -> list[Actual]:
    """Starts without a stop whose crew's day is over, or the day itself where they began after that; each with
    ``hours``, a CrewDay."""
    rows = Actual.objects.of(organisation).running().select_related("task__house", "person", "crew__week", "by")
    now, zone = timezone.now(), zone_of(organisation=organisation)
    found = []
    for row in rows.prefetch_related("crew__week__hours").order_by("pk"):
        row.hours = crew_day(crew=row.crew, day=row.day, zone=zone)
        midnight = crew_day(crew=None, day=row.day, zone=zone).end
        if now > (row.hours.end if row.started_at < row.hours.end else midnight):
            found.append(row)
    return found


def other_work_of(*, organisation: Organisation) -> QuerySet[OtherWork]:
    """That counts, with ``approved``."""
    rows = OtherWork.objects.of(organisation).filter(removed_at=None).select_related("house", "person", "crew", "by")
    return rows.annotate(approved=Exists(HourApproval.objects.filter(other=OuterRef("pk")))).order_by("day", "pk")


def any_other_work_of(*, organisation: Organisation) -> QuerySet[OtherWork]:
    """Also what was taken back, with who did what."""
    rows = OtherWork.objects.of(organisation)
    return rows.select_related("house", "person", "by", "removed_by", "approval__by")


@dataclass(frozen=True)
class Hours:
    """Of a run: minutes for one person, and how many they were."""

    minutes: Decimal
    people: int

    @property
    def person_minutes(self) -> Decimal:
        return self.minutes * self.people


def hours_of(run: Actual) -> Hours:
    """``run`` as ``runs_of`` gives it: as last corrected, else as pressed."""
    if run.latest is not None:
        return Hours(Decimal(run.corrected_minutes), run.corrected_people)
    return Hours(Decimal(str(run.length.total_seconds())) / 60, run.people)


def learned_of(*, organisation: Organisation) -> Iterator[tuple[str, Decimal, int]]:
    """(kind of work, person-minutes, units) of every day at a task: what all at it took together for all they did.

    Only days of which every hour is approved, and every unit was recorded with its time. A bend whose hoops a batch
    counts is told of once, when it is done.
    """
    days: dict[tuple[int, date], list[Actual]] = defaultdict(list)
    for run in runs_of(organisation=organisation).select_related("task"):
        days[run.task_id, run.day].append(run)
    untimed = Actual.objects.of(organisation).net().filter(done__gt=0, started_at=None, minutes=None)
    without = set(untimed.values_list("task", "day"))
    yield from _bends(days)
    for at, runs in days.items():
        if at in without or not all(run.approved for run in runs):
            continue
        task, minutes = runs[0].task, sum(hours_of(run).person_minutes for run in runs)
        # What took so long for so many feet takes so much longer for as many metres.
        minutes = convert_each(minutes, task.kind, units_of_task(task), organisation.unit_system)
        yield task.kind, minutes, sum(run.done for run in runs)


def _bends(days: dict[tuple[int, date], list[Actual]]) -> Iterator[tuple[str, Decimal, int]]:
    runs: dict[int, list[Actual]] = defaultdict(list)
    for (task, _), some in days.items():
        runs[task] += some
    tasks = {one.task_id: one.task for some in runs.values() for one in some}
    for pk in batches_at(tasks.values()):
        if tasks[pk].state == Task.State.DONE and all(run.approved for run in runs[pk]):
            yield tasks[pk].kind, sum(hours_of(run).person_minutes for run in runs[pk]), tasks[pk].done
