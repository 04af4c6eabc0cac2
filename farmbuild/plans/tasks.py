"""Work that may run in a process of its own."""

from django_tasks import task

from farmbuild.plans import services
from farmbuild.plans.models import Plan


@task()
def work_out_plan(plan_id: int) -> None:
    services.work_out_plan(plan_id)


def start_plan(*, plan: Plan) -> None:
    """Hand the plan to a worker: a thread of this process, or by the database another process."""
    work_out_plan.enqueue(plan.pk)
