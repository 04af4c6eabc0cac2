"""Work that may run in a process of its own."""

from functools import partial

from django.db import transaction
from django_tasks import task

from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule import working


@task()
def work_out_schedule(schedule_id: int) -> None:
    working.work_out_schedule(schedule_id)


def start_schedule(*, schedule: Schedule) -> None:
    """Hand the schedule to a worker: a thread of this process, or by the database another process."""
    work_out_schedule.enqueue(schedule.pk)


def start_once_stored(*, schedule: Schedule) -> None:
    """Asked for, it is worked out whether or not its page is ever opened."""
    transaction.on_commit(partial(start_schedule, schedule=schedule))
