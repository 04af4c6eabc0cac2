"""What was really done, each press kept once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.crew.actuals.bends import batch_hoops, check_bend_press, progress
from farmbuild.crew.actuals.checks import check_typed
from farmbuild.crew.actuals.hours import place
from farmbuild.crew.actuals.selectors import running_of
from farmbuild.crew.gate.rules import check_press
from farmbuild.crew.models import Actual, Person, Task
from farmbuild.crew.problems.pictures import Picture
from farmbuild.crew.problems.services import attach
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

START, STOP, DONE, NOTE = "start", "stop", "done", "note"
PRESSES = (START, STOP, DONE, NOTE)
#: What was pressed longer ago comes from a clock that is wrong.
OLDEST = timedelta(days=31)
MAX_DONE = 100_000


@needs(Act.RECORD)
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
    minutes: int | None = None,
    day: date | None = None,
    problem: str = "",
    pictures: Sequence[Picture] = (),
) -> Actual:
    """Keep one press of start, stop, done or note; the same ``key`` again gives what was kept the first time, and a
    start by a person who is at the task already gives the first start.

    ``at`` is by the clock of the device: from the future it becomes now, before the start it becomes the start.
    ``done`` is in the units of the task, added to what was done before; with ``what`` done and nothing typed (0), the
    rest of the task counts. ``minutes``: how long it took, asked for where the person has not started; they are of
    ``day``, or of the day of ``at``. ``pictures`` are kept with the problem. Raises ValidationError, by field where it
    is about one.
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
                    minutes=minutes,
                    done=done,
                    finished=what == DONE,
                    problem=problem.strip(),
                ),
                what,
                _sensible(at),
                pictures,
                typed=True,
                day=day,
            )
    except IntegrityError:
        # The same press came twice at the same moment.
        if found := _kept(organisation, key):
            return found
        raise


def _kept(organisation: Organisation, key: UUID) -> Actual | None:
    return Actual.objects.of(organisation).filter(key=key).first()


def how_many_words() -> str:
    words = gettext("Type how many were done as a whole number from 0 to %(most)s.")
    return words % {"most": format_count(MAX_DONE)}


def _sensible(at: datetime) -> datetime:
    if timezone.is_naive(at):
        raise ValidationError(gettext("The time has no time zone. Load the page again and press once more."))
    now = timezone.now()
    if at < now - OLDEST:
        words = gettext("The clock of this device says %(day)s, over %(days)s days ago. Set it, press again.")
        raise ValidationError(words % {"day": f"{at:%Y-%m-%d}", "days": OLDEST.days})
    return min(at, now)


def keep(
    actual: Actual,
    what: str,
    at: datetime,
    pictures: Sequence[Picture] = (),
    *,
    typed: bool = False,
    day: date | None = None,
) -> Actual:
    """Within the transaction of whoever asks: store ``actual`` (not stored yet) as a press at ``at``, and carry its
    task on. ``typed``: by somebody at the task, who is told what cannot be. Raises ValidationError."""
    if what not in PRESSES:
        raise ValidationError(gettext("Press start, stop or done."))
    task = lock_task(organisation=actual.organisation, task=actual.task_id)
    if found := _kept(actual.organisation, actual.key):
        return found
    check_press(organisation=actual.organisation, task=task, finishes=actual.finished)
    if counted := batch_hoops(task):
        check_bend_press(counted, finishes=actual.finished)
    run = running_of(task=task, person=actual.person)
    if what == START and run:
        return run
    if what in (START, NOTE):
        actual.started_at, actual.minutes, actual.done = at if what == START else None, None, 0
    else:
        if not 0 <= actual.done <= MAX_DONE:
            raise ValidationError(how_many_words())
        actual.stopped_at = at
        if run:
            actual.begun, actual.started_at, actual.minutes = run, run.started_at, None
            actual.stopped_at = max(at, run.started_at)
    actual.task = task
    if typed:
        check_typed(actual, what, run=run, counted=counted)
    if counted:
        actual.done = 0
    elif actual.finished and not actual.done:
        actual.done = max(0, task.count - task.done)
    place(actual, at=at, day=day)
    actual.full_clean(exclude=["by"], validate_constraints=False)
    actual.save()
    attach(actual=actual, pictures=pictures)
    carry(task)
    return actual


def lock_task(*, organisation: Organisation, task: int) -> Task:
    """The task as it is now, and nobody else's until the transaction ends."""
    rows = Task.objects.of(organisation).select_for_update(of=("self",))
    return rows.select_related("house", "crew").get(pk=task)


def carry(task: Task) -> None:
    """State and sum of a task from what counts of it: presses, or of a bend the batches of its house."""
    rows = Actual.objects.filter(task=task).net()
    if hoops := batch_hoops(task):
        finished = rows.filter(finished=True).exists()
        task.done, task.state = progress(task, hoops, worked=rows.exists(), finished=finished)
        task.save(update_fields=["done", "state"])
        return
    task.done = rows.aggregate(total=Sum("done"))["total"] or 0
    states = Task.State
    if rows.filter(finished=True).exists():
        task.state = states.DONE
    else:
        task.state = states.STARTED if rows.exists() else states.OPEN
    task.save(update_fields=["done", "state"])
