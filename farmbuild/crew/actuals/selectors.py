"""Reads of who is at a task, and of what may be taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from farmbuild.crew.models import Actual, Person, Task
from farmbuild.orgs.models import Organisation


def presses_of(*, organisation: Organisation) -> QuerySet[Actual]:
    """All that was pressed at houses that are not archived."""
    rows = Actual.objects.of(organisation).select_related("task__house", "person", "by")
    return rows.filter(task__house__archived_at=None, task__house__site__archived_at=None)


@dataclass(frozen=True)
class AtIt:
    """What counts at a task. ``running``: starts that go on, by person; ``own``: that of one person among them.

    ``last``: by person, what may be taken back first.
    """

    running: list[Actual]
    own: Actual | None
    last: list[Actual]

    def people(self, crew_size: int) -> int:
        """Who is at it: those with a run of their own, and those whom they say are with them, once each."""
        said = sum(row.people for row in self.running)
        return min(said, max(crew_size, len(self.running))) if crew_size else said


def at_it(rows: Sequence[Actual], person: Person | None) -> AtIt:
    """Of all rows of a task in order, each with ``reversed_by`` at hand."""
    net = [row for row in rows if row.reverses_id is None and not hasattr(row, "reversed_by")]
    ended = {row.begun_id for row in net}
    running = [row for row in net if row.started_at and row.stopped_at is None and row.pk not in ended]
    last = {row.person_id: row for row in net if row.started_at or row.stopped_at}
    own = next((row for row in running if person and row.person_id == person.pk), None)
    return AtIt(running, own, sorted(last.values(), key=lambda row: row.pk))


def running_of(*, task: Task, person: Person | None) -> Actual | None:
    """The start of the person at the task that nothing has ended yet."""
    return Actual.objects.filter(task=task, person=person).running().order_by("-pk").first()


def others_at(*, task: Task, person: Person | None, since: datetime) -> QuerySet[Person]:
    """Other people with a run of their own at the task that goes on or ended after ``since``."""
    rows = Actual.objects.filter(task=task, person__isnull=False)
    running = rows.running().values("person")
    ended = rows.runs().filter(stopped_at__gt=since, started_at__isnull=False).values("person")
    people = Person.objects.filter(Q(pk__in=running) | Q(pk__in=ended))
    return people.exclude(pk=person.pk if person else None).order_by("name")
