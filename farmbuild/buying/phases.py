"""How far the plans of orders are, as plans say."""

from __future__ import annotations

from collections.abc import Collection

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.signals import asking_phases_of_plans
from farmbuild.orgs.models import Organisation


def phases_of_plans(*, organisation: Organisation, plans: Collection[int]) -> dict[int, str]:
    """By the key of the plan, the word for it: "Part received"."""
    found: dict[int, str] = {}
    if plans:
        for _, answer in asking_phases_of_plans.send(PurchaseOrder, organisation=organisation, plans=plans):
            found |= answer
    return found


def phase_of_plan(*, order: PurchaseOrder) -> str:
    """Empty for an order of no plan."""
    if order.plan_id is None:
        return ""
    return phases_of_plans(organisation=order.organisation, plans=[order.plan_id]).get(order.plan_id, "")
