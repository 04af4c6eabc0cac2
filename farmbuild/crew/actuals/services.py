"""What was really done, each press kept once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone

from farmbuild.crew.gate.rules import check_press
from farmbuild.crew.models import Actual, Person, Task
from farmbuild.crew.problems.pictures import Picture
from farmbuild.crew.problems.services import attach
from farmbuild.orgs.models import Organisation, User

START, STOP, DONE = "start", "stop", "done"
#: What was pressed longer ago comes from a clock that is wrong.
OLDEST = timedelta(days=31)
MAX_DONE = 100_000


def record(
    *,
    organisation: Organisation,
    user: User,
    key: UUID,
    task: Task,
    person: Person | None,
    what: str,
    at: datetime,
    done: int = 0,
    people: int = 1,
    problem: str = "",
    pictures: Sequence[Picture] = (),
) -> Actual:
    """Keep one press of start, stop or done; the same ``key`` again gives what was kept the first time.

    ``at`` is by the clock of the device: from the future it becomes now, before the start it becomes the start.
    ``done`` is in the units of the task, added to what was done before; with ``what`` done and nothing typed (0), the
    rest of the task counts. ``pictures`` are kept with the problem. Raises ValidationError in a sentence.
    """
    if found := _kept(organisation, key):
        return found
    try:
        with transaction.atomic():
            return keep(
                Actual(
                    organisation=organisation,
                    task=task,
                    key=key,
                    person=person,
                    by=user,
                    people=people,
                    done=done,
                    finished=what == DONE,
                    problem=problem.strip(),
                ),
                what,
                _sensible(at),
                pictures,
            )
    except IntegrityError:
        # The same press came twice at the same moment.
        if found := _kept(organisation, key):
            return found
        raise


def _kept(organisation: Organisation, key: UUID) -> Actual | None:
    return Actual.objects.of(organisation).filter(key=key).first()


def _sensible(at: datetime) -> datetime:
    if timezone.is_naive(at):
        raise ValidationError("The time has no time zone. Load the page again and press once more.")
    now = timezone.now()
    if at < now - OLDEST:
        raise ValidationError(
            f"The clock of this device says {at:%Y-%m-%d}, over {OLDEST.days} days ago. Set it, press again."
        )
    return min(at, now)


def keep(actual: Actual, what: str, at: datetime, pictures: Sequence[Picture] = ()) -> Actual:
    """Within the transaction of whoever asks: store ``actual`` (not stored yet) as a press at ``at``, and carry its
    task on. Raises ValidationError in a sentence."""
    if what not in (START, STOP, DONE):
        raise ValidationError("Press start, stop or done.")
    task = Task.objects.of(actual.organisation).select_for_update(of=("self",)).get(pk=actual.task_id)
    if found := _kept(actual.organisation, actual.key):
        return found
    check_press(organisation=actual.organisation, task=task, finishes=actual.finished)
    if what == START:
        actual.started_at, actual.done = at, 0
    else:
        if not 0 <= actual.done <= MAX_DONE:
            raise ValidationError(f"Type how many were done as a whole number from 0 to {MAX_DONE:,}.")
        begun = _begun(actual)
        actual.started_at = begun
        actual.stopped_at = max(at, begun) if begun else at
        if actual.finished and not actual.done:
            actual.done = max(0, task.count - task.done)
    actual.full_clean(exclude=["by"], validate_constraints=False)
    actual.save()
    attach(actual=actual, pictures=pictures)
    _carry(task)
    return actual


def _begun(actual: Actual) -> datetime | None:
    """When the person started and has not stopped since."""
    rows = Actual.objects.of(actual.organisation).filter(task=actual.task_id, person=actual.person)
    last = rows.order_by("-pk").first()
    return last.started_at if last and last.stopped_at is None else None


def _carry(task: Task) -> None:
    """State and sum of a task from what is kept of it."""
    rows = Actual.objects.filter(task=task)
    task.done = rows.aggregate(total=Sum("done"))["total"] or 0
    task.state = Task.State.DONE if rows.filter(finished=True).exists() else Task.State.STARTED
    task.save(update_fields=["done", "state"])
