"""Asking for a schedule, publishing it, and keeping a task where it is."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone, translation
from django.utils.translation import gettext, ngettext

from farmbuild.common.long_work import end_early, try_again
from farmbuild.crew import bridge
from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.people.selectors import crews_of
from farmbuild.crew.schedule.comparison import basis_now, compare
from farmbuild.crew.schedule.problem import live_tasks, schedule_problem
from farmbuild.crew.schedule.selectors import published_since
from farmbuild.history.act import not_told
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User


def _locked(organisation: Organisation) -> Organisation:
    """One at a time in an organisation: numbers run on, and of two who publish the second sees the first."""
    return Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)


@needs(Act.PLAN)
@transaction.atomic
def create_schedule(*, organisation: Organisation, user: User, now: datetime | None = None) -> Schedule:
    """Store a snapshot of all open work; it still has to be worked out. ``now``: aware; the next quarter counts.

    Raises ValidationError where there is nothing to plan.
    """
    organisation = _locked(organisation)
    start = bridge.next_slot(now or timezone.now())
    tasks = list(live_tasks(organisation=organisation))
    if all(task.state == Task.State.DONE for task in tasks):
        raise ValidationError(
            gettext("There is no work to plan. Make the tasks of a house first, on the page of the house.")
        )
    if not crews_of(organisation=organisation).exists():
        raise ValidationError(gettext("Add a crew first: without one no task gets a day."))
    # Why a task cannot be placed is kept.
    with translation.override(settings.LANGUAGE_CODE):
        work = schedule_problem(organisation=organisation, tasks=tasks, start=start)
    last = Schedule.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    schedule = Schedule(
        organisation=organisation,
        number=last + 1,
        starts_at=start,
        created_by=user,
        inputs={
            "work": work.packed,
            "ways": work.ways,
            "dues": work.dues,
            "reasons": work.reasons,
            "before": {
                str(task.pk): {
                    "crew": task.crew_id,
                    "bender": task.bender_id,
                    "starts_at": task.starts_at.isoformat(),
                    "ends_at": task.ends_at.isoformat(),
                }
                for task in tasks
                if task.starts_at and task.state == Task.State.OPEN
            },
        },
        seen=basis_now(organisation=organisation, start=start),
    )
    schedule.full_clean()
    schedule.save()
    return schedule


@needs(Act.PLAN)
def try_schedule_again(*, organisation: Organisation, user: User, schedule: Schedule) -> None:
    """What stopped waits for a worker again."""
    try_again(schedule)


@needs(Act.PLAN)
def end_schedule_early(*, organisation: Organisation, user: User, schedule: Schedule) -> bool:
    """The best so far is kept as the schedule; False where it is worked out already."""
    return end_early(schedule)


@needs(Act.PLAN)
@transaction.atomic
def publish_schedule(*, organisation: Organisation, user: User, schedule: Schedule) -> int:
    """Give every placed task its crew, bender and times; says how many tasks were changed.

    Tasks that are started, done or fixed stay as they are. Tasks that have no place any more lose theirs. Raises
    ValidationError where it is not worked out, another was published since, or what is there now does not let a task
    stand where it is placed.
    """
    organisation = _locked(organisation)
    schedule = Schedule.objects.of(organisation).get(pk=schedule.pk)
    if schedule.state != Schedule.State.READY:
        raise ValidationError(gettext("This schedule is not worked out yet. Wait for it, then publish it."))
    if schedule.published_at:
        raise ValidationError(gettext("This schedule is published already."))
    if other := published_since(schedule=schedule):
        raise ValidationError(
            gettext("Schedule %(other)s was published since this one was asked for. Work out again.") % {"other": other}
        )
    if not schedule.result["placed"]:
        raise ValidationError(
            gettext("This schedule gives no task a day, so there is nothing to publish. See why below.")
        )
    tasks = list(live_tasks(organisation=organisation).select_for_update(of=("self",)))
    if misfits := compare(organisation=organisation, schedule=schedule).misfits:
        raise ValidationError(
            ngettext(
                "%(count)s task no longer fits what is there now, as listed below. Work out again.",
                "%(count)s tasks no longer fit what is there now, as listed below. Work out again.",
                len(misfits),
            )
            % {"count": format_count(len(misfits))}
        )
    changed = _placed(tasks, schedule)
    # Where each task went follows from the schedule that somebody published, which is told.
    with not_told(Task):
        Task.objects.bulk_update(changed, ["crew", "bender", "starts_at", "ends_at"], batch_size=200)
    Schedule.objects.filter(pk=schedule.pk).update(
        published_at=timezone.now(), seen=basis_now(organisation=organisation, start=schedule.starts_at)
    )
    return len(changed)


def _placed(tasks: list[Task], schedule: Schedule) -> list[Task]:
    places = {place["task"]: place for place in schedule.result["placed"]}
    changed = []
    for task in tasks:
        # What was fixed and is over by then was planned anew.
        if task.state != Task.State.OPEN or (task.fixed and task.starts_at and task.ends_at > schedule.starts_at):
            continue
        place = places.get(task.pk)
        new = (None, None, None, None)
        if place:
            times = (datetime.fromisoformat(str(place[name])) for name in ("starts_at", "ends_at"))
            new = (place["crew"], place["bender"], *times)
        if new != (task.crew_id, task.bender_id, task.starts_at, task.ends_at):
            task.crew_id, task.bender_id, task.starts_at, task.ends_at = new
            changed.append(task)
    return changed


@needs(Act.PLAN)
@transaction.atomic
def set_fixed(*, organisation: Organisation, user: User, task: Task, fixed: bool) -> None:
    """A fixed task stays where it is published, whatever is planned later. Raises ValidationError without a place."""
    _locked(organisation)
    row = Task.objects.of(organisation).select_for_update(of=("self",)).get(pk=task.pk)
    if fixed and (row.starts_at is None or row.crew_id is None):
        raise ValidationError(gettext("This task has no place yet. Publish a schedule first, then fix it."))
    row.fixed = fixed
    row.save(update_fields=["fixed"])
