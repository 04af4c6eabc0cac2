"""Work that may run in a process of its own."""

from functools import partial

from django.db import transaction
from django_tasks import task

from farmbuild.plans import services
from farmbuild.plans.from_yard import services as from_yard
from farmbuild.plans.models import Plan, PlanFromYard, PlanSavings
from farmbuild.plans.savings import services as savings


@task()
def work_out_plan(plan_id: int) -> None:
    services.work_out_plan(plan_id)


def start_plan(*, plan: Plan) -> None:
    """Hand the plan to a worker: a thread of this process, or by the database another process."""
    work_out_plan.enqueue(plan.pk)


def start_once_stored(*, plan: Plan) -> None:
    """Asked for, it is worked out whether or not its page is ever opened; one that is done stays as it is."""
    transaction.on_commit(partial(start_plan, plan=plan))


@task()
def look_for_savings(pk: int) -> None:
    savings.look_for_savings(pk)


def start_looking(*, search: PlanSavings) -> None:
    look_for_savings.enqueue(search.pk)


def start_looking_once_stored(*, search: PlanSavings) -> None:
    transaction.on_commit(partial(start_looking, search=search))


@task()
def look_in_yard(pk: int) -> None:
    from_yard.look_in_yard(pk)


def start_in_yard(*, search: PlanFromYard) -> None:
    look_in_yard.enqueue(search.pk)


def start_in_yard_once_stored(*, search: PlanFromYard) -> None:
    transaction.on_commit(partial(start_in_yard, search=search))
