"""Plans whose houses are no longer as they were when the plan was asked for, by few queries for many plans.

What else may have changed, stock and prices, stands on the page of the plan (``selectors.changes_since``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence

from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext

from farmbuild.buying.models import PurchaseOrder
from farmbuild.common.compiled import compiled_once
from farmbuild.common.speaking import said
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan, PlanHouse
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated
from farmbuild.sites.selectors import houses_by_key

#: What to do about an order of such a plan, by its state; what is received or cancelled is done with.
ORDERS = {
    PurchaseOrder.State.DRAFT: gettext_noop("not sent; plan again first"),
    PurchaseOrder.State.SENT: gettext_noop("sent as the house was"),
    PurchaseOrder.State.PART: gettext_noop("sent as the house was"),
}


def changed_houses(*, organisation: Organisation, plans: Collection[int]) -> dict[int, list[str]]:
    """By the key of the plan, names of its houses that have changed or are archived since; plans without are left out.

    Of an accepted plan, the houses that it still builds. As many queries for one plan as for many.
    """
    by_plan: dict[int, list[int]] = defaultdict(list)
    for plan, house in _asked_for(organisation.pk, plans):
        by_plan[plan].append(house)
    asked = _as_asked(by_plan)
    keys = {house for houses in by_plan.values() for house in houses}
    now = {house.pk: house for house in houses_by_key(organisation=organisation, keys=keys)}
    found = {}
    for plan, keys in by_plan.items():
        then = asked[plan]
        changed = [now[key].name for key in keys if then is not None and _differs(now[key], then)]
        if changed:
            found[plan] = changed
    return found


@compiled_once
def _asked_for(organisation: int, plans: Sequence[int]) -> QuerySet[PlanHouse]:
    """Of an accepted plan, the houses that it still builds."""
    rows = PlanHouse.objects.filter(plan__in=plans, plan__organisation=organisation, plan__state=Plan.State.READY)
    rows = rows.filter(Q(accepted=True) | Q(plan__accepted_at=None) | Q(plan__released_at__isnull=False))
    return rows.order_by("plan", "house__name").values_list("plan", "house")


def _as_asked(plans: Collection[int]) -> dict[int, dict[str, bridge.HouseInput] | None]:
    """By the key of the plan; None for one that a newer version stored."""
    return {pk: bridge.houses_as_asked(*how) for pk, *how in _stored_houses(list(plans))}


@compiled_once
def _stored_houses(plans: Sequence[int]) -> QuerySet[Plan]:
    stored = Plan.objects.filter(pk__in=plans).order_by()
    return stored.values_list("pk", "inputs__version", "inputs__season__houses")


def _differs(house: House, then: dict[str, bridge.HouseInput]) -> bool:
    gone = house.archived_at or house.site.archived_at
    return bool(gone) or bridge.house_input(house) != then.get(house.slug)


@compiled_once
def _last_planned(house: int) -> QuerySet[PlanHouse]:
    rows = PlanHouse.objects.filter(house_id=house, plan__state=Plan.State.READY)
    rows = rows.select_related("plan").defer("plan__inputs", "plan__result")
    return rows.order_by(F("accepted").desc(), F("plan__number").desc())[:1]


def outdated_by(*, house: House) -> list[Outdated]:
    """The plan that builds the house, or else the latest that was worked out for it, and the orders of that plan."""
    row = next(iter(_last_planned(house.pk)), None)
    if row is None:
        return []
    plan = row.plan
    # As ``_asked_for``: an accepted plan that does not build the house any more has no say.
    if plan.organisation_id != house.organisation_id or not (row.accepted or not plan.accepted_at or plan.released_at):
        return []
    then = _as_asked([plan.pk])[plan.pk]
    if then is None or not _differs(house, then):
        return []
    orders = PurchaseOrder.objects.filter(plan=plan, state__in=ORDERS).order_by("number")
    return [
        Outdated(str(plan), plan.get_absolute_url(), gettext("plan again"), 0),
        *(
            Outdated(
                gettext("Order %(number)s") % {"number": order.number},
                order.get_absolute_url(),
                said(ORDERS[PurchaseOrder.State(order.state)]),
                1,
            )
            for order in orders
        ),
    ]
