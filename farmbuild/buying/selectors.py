"""Reads of purchase orders."""

from django.db.models import Count, Exists, OuterRef, QuerySet

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.orgs.models import Organisation
from farmbuild.plans.models import Plan


def orders_of(*, organisation: Organisation) -> QuerySet[PurchaseOrder]:
    """Orders with supplier, delivery site and plan loaded, ``line_count`` and ``late``, by one query."""
    late = PurchaseOrderLine.objects.filter(order=OuterRef("pk"), late_days__gt=0)
    return (
        PurchaseOrder.objects.of(organisation)
        .select_related("supplier", "delivery_site", "plan")
        .defer("plan__inputs", "plan__result")
        .annotate(line_count=Count("lines"), late=Exists(late))
    )


def orders_of_plan(*, plan: Plan) -> QuerySet[PurchaseOrder]:
    return orders_of(organisation=plan.organisation).filter(plan=plan)


def orders_of_each_plan() -> QuerySet[PurchaseOrder]:
    """Grouped by plan, for a sum beside each row of a query over plans."""
    return PurchaseOrder.objects.filter(plan=OuterRef("pk")).order_by().values("plan")


def lines_of(*, order: PurchaseOrder) -> QuerySet[PurchaseOrderLine]:
    return order.lines.select_related("material")
