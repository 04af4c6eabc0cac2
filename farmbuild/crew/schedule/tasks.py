"""Work that may run in a process of its own."""

from django_tasks import task

from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule import working


@task()
def work_out_schedule(schedule_id: int) -> None:
    working.work_out_schedule(schedule_id)


def start_schedule(*, schedule: Schedule) -> None:
    """Hand the schedule to a worker: at once in this process, or by the database to another."""
    work_out_schedule.enqueue(schedule.pk)
