"""Orders of plans whose houses have changed since: what they bring may not be what is needed."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import QuerySet

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.selectors import overtaken
from farmbuild.buying.signals import asking_changed_houses
from farmbuild.common.compiled import compiled_once
from farmbuild.orgs.models import Organisation

State = PurchaseOrder.State
#: An order that is received or cancelled is done with, whatever its plan.
CONCERNED = (State.DRAFT, State.SENT, State.PART)


def changed_by_plan(*, organisation: Organisation, plans: Collection[int]) -> dict[int, list[str]]:
    """By the key of each plan that is out of date, the names of its houses that have changed."""
    found: dict[int, list[str]] = {}
    if plans:
        for _, answer in asking_changed_houses.send(PurchaseOrder, organisation=organisation, plans=plans):
            found |= answer
    return found


def changed_houses(*, order: PurchaseOrder) -> list[str]:
    """Houses of its plan that have changed since, while that matters to the order."""
    if order.state not in CONCERNED or order.plan_id is None:
        return []
    return changed_by_plan(organisation=order.organisation, plans=[order.plan_id]).get(order.plan_id, [])


def outdated_plans(*, organisation: Organisation) -> dict[int, list[str]]:
    """``changed_by_plan`` of all plans that have orders which are not received or cancelled.

    Drafts that a plan accepted later has overtaken are told of already.
    """
    return changed_by_plan(organisation=organisation, plans={*_plans_concerned(organisation.pk)})


@compiled_once
def _plans_concerned(organisation: int) -> QuerySet[PurchaseOrder]:
    orders = PurchaseOrder.objects.filter(organisation_id=organisation, state__in=CONCERNED, plan__isnull=False)
    orders = orders.exclude(overtaken(accepted_at="plan__accepted_at", plan="plan"), state=State.DRAFT)
    return orders.order_by().values_list("plan", flat=True).distinct()
