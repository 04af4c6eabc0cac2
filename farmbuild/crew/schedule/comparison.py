"""How a schedule stands against what is there now: what changed since, and which of its tasks no longer fit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from django.core.cache import cache
from django.db.models.fields.json import KT
from django.utils import timezone
from django.utils.translation import get_language

from farmbuild.common.reading import units_of
from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.schedule.basis import Basis, basis_of, digest_of
from farmbuild.crew.schedule.changes import changes
from farmbuild.crew.schedule.misfits import Place, misfits_of
from farmbuild.crew.schedule.problem import live_tasks, releases_for
from farmbuild.crew.steps.selectors import Releases
from farmbuild.measure import current_style
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
    return _Now.of(organisation).seen(organisation, start, now)


@dataclass(frozen=True)
class _Now:
    """What both the basis and the misfits are worked out of."""

    tasks: list[Task]
    releases: Releases

    @classmethod
    def of(cls, organisation: Organisation) -> _Now:
        tasks = list(live_tasks(organisation=organisation))
        return cls(tasks, releases_for(organisation=organisation, tasks=tasks))

    def seen(self, organisation: Organisation, start: datetime, now: datetime | None) -> dict[str, object]:
        basis = basis_of(organisation=organisation, start=start, tasks=self.tasks, releases=self.releases)
        return {"digest": digest_of(basis, self.tasks, now), "world": basis}


def compare(*, organisation: Organisation, schedule: Schedule, now: datetime | None = None) -> Comparison:
    """Since it was worked out, or since it was published. Where nothing has changed, that is all that is looked at.

    ``schedule`` is worked out; one from before this was kept has changed in ways that nobody can tell.
    """
    now = now or timezone.now()
    there = _Now.of(organisation)
    seen = there.seen(organisation, schedule.starts_at, now)
    mine = Schedule.objects.of(organisation).filter(pk=schedule.pk)
    if mine.annotate(digest=KT("seen__digest")).values_list("digest", flat=True).first() == seen["digest"]:
        return Comparison()
    # It is told in sentences.
    told = sha256(repr((get_language(), current_style(), units_of(organisation))).encode()).hexdigest()
    key = f"crew-comparison-{schedule.pk}-{bool(schedule.published_at)}-{seen['digest']}-{told}"
    found = cache.get(key)
    if found is None:
        found = _compared(organisation, schedule, seen["world"], there, now)
        cache.set(key, found, KEPT)
    return found


def _compared(organisation: Organisation, schedule: Schedule, basis: Basis, there: _Now, now: datetime) -> Comparison:
    before = Schedule.objects.of(organisation).values_list("seen__world", flat=True).get(pk=schedule.pk)
    places = _published(there.tasks) if schedule.published_at else _worked_out(schedule)
    misfits = misfits_of(
        organisation=organisation,
        tasks=there.tasks,
        places=places,
        start=schedule.starts_at,
        now=now,
        releases=there.releases,
    )
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
