"""Plans whose houses are no longer as they were when the plan was asked for, by few queries for many plans.

What else may have changed, stock and prices, stands on the page of the plan (``selectors.changes_since``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from django.db.models import F, Q, QuerySet

from farmbuild.buying.models import PurchaseOrder
from farmbuild.orgs.models import Organisation
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated
from farmbuild.sites.selectors import any_house_of

#: What to do about an order of such a plan, by its state; what is received or cancelled is done with.
ORDERS = {
    PurchaseOrder.State.DRAFT: "not sent; plan again first",
    PurchaseOrder.State.SENT: "sent as the house was",
    PurchaseOrder.State.PART: "sent as the house was",
}


def changed_houses(*, organisation: Organisation, plans: Collection[int]) -> dict[int, list[str]]:
    """By the key of the plan, names of its houses that have changed or are archived since; plans without are left out.

    Of an accepted plan, the houses that it still builds. As many queries for one plan as for many.
    """
    rows = _asked_for(organisation, plans)
    by_plan: dict[int, list[int]] = defaultdict(list)
    for plan, house in rows.order_by("plan", "house__name").values_list("plan", "house"):
        by_plan[plan].append(house)
    asked = _as_asked(by_plan)
    now = {
        house.pk: house
        for house in any_house_of(organisation=organisation).filter(
            pk__in={house for houses in by_plan.values() for house in houses}
        )
    }
    found = {}
    for plan, keys in by_plan.items():
        then = asked[plan]
        changed = [now[key].name for key in keys if then is not None and _differs(now[key], then)]
        if changed:
            found[plan] = changed
    return found


def _asked_for(organisation: Organisation, plans: Collection[int]) -> QuerySet[PlanHouse]:
    """Of an accepted plan, the houses that it still builds."""
    rows = PlanHouse.objects.filter(plan__in=plans, plan__organisation=organisation, plan__state=Plan.State.READY)
    return rows.filter(Q(accepted=True) | Q(plan__accepted_at=None) | Q(plan__released_at__isnull=False))


def _as_asked(plans: Collection[int]) -> dict[int, dict[str, bridge.HouseInput] | None]:
    """By the key of the plan; None for one that a newer version stored."""
    stored = Plan.objects.filter(pk__in=plans).order_by()
    rows = stored.values_list("pk", "inputs__version", "inputs__season__houses")
    return {pk: bridge.houses_as_asked(*how) for pk, *how in rows}


def _differs(house: House, then: dict[str, bridge.HouseInput]) -> bool:
    gone = house.archived_at or house.site.archived_at
    return bool(gone) or bridge.house_input(house) != then.get(house.slug)


def outdated_by(*, house: House) -> list[Outdated]:
    """The plan that builds the house, or else the latest that was worked out for it, and the orders of that plan."""
    rows = PlanHouse.objects.filter(house=house, plan__state=Plan.State.READY)
    row = rows.order_by(F("accepted").desc(), F("plan__number").desc()).first()
    if row is None:
        return []
    plan = Plan.objects.defer("inputs", "result").get(pk=row.plan_id)
    if not _asked_for(house.organisation, [plan.pk]).filter(house=house).exists():
        return []
    then = _as_asked([plan.pk])[plan.pk]
    if then is None or not _differs(house, then):
        return []
    orders = PurchaseOrder.objects.filter(plan=plan, state__in=ORDERS).order_by("number")
    return [
        Outdated(str(plan), plan.get_absolute_url(), "plan again", 0),
        *(
            Outdated(f"Order {order.number}", order.get_absolute_url(), ORDERS[PurchaseOrder.State(order.state)], 1)
            for order in orders
        ),
    ]
