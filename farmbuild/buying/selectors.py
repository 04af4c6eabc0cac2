"""Reads of purchase orders."""

from datetime import date

from django.db.models import Count, Exists, Max, OuterRef, QuerySet

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan
from farmbuild.plans.selectors import newer_plan


def orders_of(*, organisation: Organisation) -> QuerySet[PurchaseOrder]:
    """Orders with supplier, site and plan loaded, ``line_count``, ``late`` and ``overtaken``, by one query.

    The first to go out comes first.
    """
    late = PurchaseOrderLine.objects.filter(order=OuterRef("pk"), late_days__gt=0)
    return (
        PurchaseOrder.objects.of(organisation)
        .select_related("supplier", "delivery_site", "plan")
        .defer("plan__inputs", "plan__result")
        .order_by("order_by", "pk")
        .annotate(
            line_count=Count("lines"),
            late=Exists(late),
            overtaken=newer_plan(number="plan__number", plan="plan"),
        )
    )


def orders_of_plan(*, plan: Plan) -> QuerySet[PurchaseOrder]:
    return orders_of(organisation=plan.organisation).filter(plan=plan)


def lines_of(*, order: PurchaseOrder) -> QuerySet[PurchaseOrderLine]:
    return order.lines.select_related("material")


def first_to_send(*, organisation: Organisation, today: date) -> PurchaseOrder | None:
    """The order that has to go out first, of those that hold and whose day has not passed."""
    return orders_of(organisation=organisation).filter(order_by__gte=today, overtaken=False).first()


def lateness_of(*, order: PurchaseOrder) -> dict[str, int]:
    """``lines`` that come late, and by how many ``days`` at most."""
    return order.lines.filter(late_days__gt=0).aggregate(lines=Count("pk"), days=Max("late_days", default=0))
