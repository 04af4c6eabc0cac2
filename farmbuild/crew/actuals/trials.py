"""The task of a trial hoop is done when its hoop is accepted, inside the transaction of whoever accepts it."""

from __future__ import annotations

from datetime import datetime
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from farmbuild.crew.actuals.services import DONE, carry, keep
from farmbuild.crew.gate.selectors import gates_of
from farmbuild.crew.models import Actual, Kind, Person, Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.models import Organisation, User


@transaction.atomic
def trial_accepted(*, organisation: Organisation, user: User | None, batch: HoopBatch) -> list[Task]:
    """The trial hoop of ``batch`` is accepted: the tasks of its houses that it opens are done now, by ``user``.

    A house that other batches bend for too waits for theirs.
    """
    rows = Task.objects.of(organisation).filter(kind=Kind.TRIAL, house__hoop_shares__batch=batch)
    # Locked before the other batches are read: of two accepted at once, the later sees the earlier.
    tasks = list(
        Task.objects.select_for_update(of=("self",))
        .filter(pk__in=rows.values("pk"))
        .exclude(state=Task.State.DONE)
        .select_related("house")
        .order_by("pk")
    )
    gates = gates_of(organisation=organisation, houses=[task.house for task in tasks])
    opened = [task for task in tasks if gates[task.house_id].is_open]
    for task in opened:
        _done(task, user, timezone.now())
    return opened


@transaction.atomic
def catch_up(*, organisation: Organisation, task: Task) -> bool:
    """For a task of a trial hoop that is made after its hoop was accepted: it is done, as of then. One of bending
    starts with what its batches have bent."""
    if task.kind == Kind.BEND:
        carry(task)
        return task.state == Task.State.DONE
    if task.kind != Kind.TRIAL or task.state == Task.State.DONE:
        return False
    gate = gates_of(organisation=organisation, houses=[task.house])[task.house_id]
    if not gate.is_open:
        return False
    last = max((batch.accepted_trial for batch in gate.batches), key=lambda trial: trial.at)
    _done(task, last.by, last.at)
    return True


def _done(task: Task, user: User | None, at: datetime) -> None:
    """Kept as any press of done is. Whoever works at it has stopped."""
    own = Person.objects.of(task.organisation).filter(user=user, archived_at=None).first() if user else None
    running = list(task.actuals.running().select_related("person").order_by("pk"))
    run = next((actual for actual in running if own and actual.person_id == own.pk), running[-1] if running else None)
    press = Actual(
        organisation=task.organisation,
        task=task,
        key=uuid4(),
        person=run.person if run else own,
        by=user,
        people=run.people if run else task.people,
        finished=True,
    )
    keep(press, DONE, at)
    task.refresh_from_db()
