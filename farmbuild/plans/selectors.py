"""Reads of plans. The snapshots are large, so they are fetched only through plans.bridge."""

from datetime import timedelta

from django.db.models import Count, Min, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from farmbuild.buying.selectors import orders_of_each_plan
from farmbuild.orgs.models import Organisation
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse

#: A worker that has not been heard from for so long has stopped.
SILENCE = timedelta(minutes=5)


def plans_of(*, organisation: Organisation) -> QuerySet[Plan]:
    return Plan.objects.of(organisation).select_related("organisation", "delivery_site").defer("inputs", "result")


def plans_with_totals(*, organisation: Organisation) -> QuerySet[Plan]:
    """Plans with ``house_count``, ``order_count``, ``total`` and ``order_by``, by one query."""
    orders = orders_of_each_plan()
    houses = PlanHouse.objects.filter(plan=OuterRef("pk")).order_by().values("plan")
    return plans_of(organisation=organisation).annotate(
        house_count=Coalesce(Subquery(houses.annotate(n=Count("pk")).values("n")), 0),
        order_count=Coalesce(Subquery(orders.annotate(n=Count("pk")).values("n")), 0),
        total=Subquery(orders.annotate(n=Sum("total")).values("n")),
        order_by=Subquery(orders.annotate(n=Min("order_by")).values("n")),
    )


def open_to_work() -> Q:
    """Plans that a worker may take: those waiting, and those whose worker has stopped."""
    return Q(state=Plan.State.WAITING) | Q(state=Plan.State.WORKING, heard_from_at__lt=timezone.now() - SILENCE)


def changes_since(*, plan: Plan) -> list[str]:
    """What has changed since the plan's snapshot was taken, in sentences; empty when nothing has."""
    then = bridge.season_of(plan)
    now = bridge.season_for(
        organisation=plan.organisation,
        houses=plan.houses.all(),
        delivery_site=plan.delivery_site,
        as_of=plan.as_of,
    )
    return bridge.changes(then, now)
