"""What is recorded when others tell of it."""

from __future__ import annotations

from typing import Any

from farmbuild.crew.actuals import trials
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.orgs.models import Organisation, User


def finish_trial_tasks(
    sender: Any, *, organisation: Organisation, user: User | None, batch: HoopBatch, **more: Any
) -> None:
    trials.trial_accepted(organisation=organisation, user=user, batch=batch)
