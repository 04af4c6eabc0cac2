"""What is recorded when others tell of it."""

from __future__ import annotations

from typing import Any

from farmbuild.crew.actuals import trials
from farmbuild.crew.actuals.services import carry, lock_task
from farmbuild.crew.models import Kind, Task
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.models import Organisation, User


def finish_trial_tasks(
    sender: Any, *, organisation: Organisation, user: User | None, batch: HoopBatch, **more: Any
) -> None:
    trials.trial_accepted(organisation=organisation, user=user, batch=batch)


def carry_bend_tasks(
    sender: Any, *, organisation: Organisation, user: User | None, batch: HoopBatch, **more: Any
) -> None:
    """The tasks of bending of the houses of ``batch`` are as far as it is."""
    rows = Task.objects.of(organisation).filter(kind=Kind.BEND, house__hoop_shares__batch=batch)
    for pk in rows.order_by("pk").values_list("pk", flat=True):
        # Locked before the batches are read: of two batches for one house, the later sees the earlier.
        carry(lock_task(organisation=organisation, task=pk))
