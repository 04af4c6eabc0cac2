"""How a schedule stands against what is there now: what changed since, and which of its tasks no longer fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.core.cache import cache
from django.db.models.fields.json import KT
from django.utils import timezone

from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule.basis import Basis, basis_of, digest_of, live_rows
from farmbuild.crew.schedule.changes import changes
from farmbuild.crew.schedule.misfits import Place, misfits_of
from farmbuild.crew.schedule.problem import live_tasks
from farmbuild.orgs.models import Organisation

#: A found answer is good for as long as its digest is; this only bounds what is kept.
KEPT = 24 * 60 * 60


@dataclass(frozen=True)
class Comparison:
    """``misfits``: by the key of a task, why it does not fit any more, to follow on its name."""

    changes: tuple[str, ...] = ()
    misfits: Mapping[int, list[str]] | None = None

    def __bool__(self) -> bool:
        return bool(self.changes or self.misfits)


def basis_now(*, organisation: Organisation, start: datetime, now: datetime | None = None) -> dict[str, object]:
    """What a schedule from ``start`` rests on as it is now, as kept in ``Schedule.seen``."""
    rows = live_rows(organisation)
    basis = basis_of(organisation=organisation, start=start, tasks=rows)
    return {"digest": digest_of(basis, rows, now), "world": basis}


def compare(*, organisation: Organisation, schedule: Schedule, now: datetime | None = None) -> Comparison:
    """Since it was worked out, or since it was published. Where nothing has changed, that is all that is looked at.

    ``schedule`` is worked out; one from before this was kept has changed in ways that nobody can tell.
    """
    now = now or timezone.now()
    seen = basis_now(organisation=organisation, start=schedule.starts_at, now=now)
    mine = Schedule.objects.of(organisation).filter(pk=schedule.pk)
    if mine.annotate(digest=KT("seen__digest")).values_list("digest", flat=True).first() == seen["digest"]:
        return Comparison()
    key = f"crew-comparison-{schedule.pk}-{bool(schedule.published_at)}-{seen['digest']}"
    found = cache.get(key)
    if found is None:
        found = _compared(organisation, schedule, seen["world"], now)
        cache.set(key, found, KEPT)
    return found


def _compared(organisation: Organisation, schedule: Schedule, basis: Basis, now: datetime) -> Comparison:
    tasks = list(live_tasks(organisation=organisation))
    before = Schedule.objects.of(organisation).values_list("seen__world", flat=True).get(pk=schedule.pk)
    places = _published(tasks) if schedule.published_at else _worked_out(schedule)
    misfits = misfits_of(organisation=organisation, tasks=tasks, places=places, start=schedule.starts_at, now=now)
    return Comparison(tuple(changes(before, basis)) if before else (), misfits)


def _published(tasks: list[Task]) -> dict[int, Place]:
    return {
        task.pk: Place(task.crew_id, task.bender_id, task.starts_at, task.ends_at)
        for task in tasks
        if task.crew_id and task.starts_at
    }


def _worked_out(schedule: Schedule) -> dict[int, Place]:
    return {
        row["task"]: Place(
            row["crew"], row["bender"], datetime.fromisoformat(row["starts_at"]), datetime.fromisoformat(row["ends_at"])
        )
        for row in schedule.result["placed"]
    }
