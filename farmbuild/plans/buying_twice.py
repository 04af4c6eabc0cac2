"""What was bought for the houses of a plan after it was worked out; to accept the plan would buy it again."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.buying.incoming import line_name
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.common.speaking import said_list
from farmbuild.measure import format_money
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan
from farmbuild.plans.reserving.selectors import used_in_houses
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.models import Lot
from farmbuild.stock.reserving.selectors import reserved_by_others


def refuse_bought_twice(*, plan: Plan, season: bridge.Season, result: bridge.SeasonPlan) -> None:
    """Raises ValidationError naming the orders that went out, or the houses that were given more, uncounted."""
    bought = {line.material for order in result.orders for line in order.lines}
    if not bought:
        return
    if orders := _uncounted(plan, season, bought):
        named = said_list(
            gettext("order %(number)s to %(supplier)s (%(money)s)")
            % {
                "number": order.number,
                "supplier": order.supplier,
                "money": format_money(order.total, order.currency),
            }
            for order in orders
        )
        raise ValidationError(
            gettext(
                "Plan %(plan_number)s does not count %(named)s, which went out for the same houses. "
                "Accepting it would buy the same materials twice. Plan again, and accept that plan."
            )
            % {"plan_number": plan.number, "named": named}
        )
    if given := _given_since(plan, season, bought):
        raise ValidationError(
            gettext(
                "%(given)s got materials after plan %(plan_number)s was worked out, and it would buy "
                "them again. Plan again, and accept that plan."
            )
            % {"given": said_list(given), "plan_number": plan.number}
        )


def _uncounted(plan: Plan, season: bridge.Season, bought: set[str]) -> list[PurchaseOrder]:
    """Orders of other plans with a house of this one that bring, or brought, what is free for it and it buys anew."""
    organisation = plan.organisation
    counted = {lot.ref for lot in season.lots}
    lines = PurchaseOrderLine.objects.filter(
        order__organisation=organisation,
        order__sent_on__isnull=False,
        order__plan__houses__in=plan.houses.order_by(),
        material__code__in=bought,
    )
    lines = lines.exclude(order__plan=plan).exclude(order__state=PurchaseOrder.State.CANCELLED)
    rows = [row for row in lines.select_related("order__supplier").distinct() if line_name(row) not in counted]
    houses = list(plan.houses.values_list("pk", flat=True))
    by_lot, by_line = reserved_by_others(organisation=organisation, houses=houses)
    found = {row.order for row in rows if row.to_come > by_line.get(row.pk, 0)}
    came = Lot.objects.of(organisation).filter(receipt_lines__order_line__in=[row.pk for row in rows], on_hand__gt=0)
    for pk, ref, on_hand, line in came.values_list("pk", "reference", "on_hand", "receipt_lines__order_line"):
        if ref not in counted and on_hand > by_lot.get(pk, 0):
            found |= {row.order for row in rows if row.pk == line}
    return sorted(found, key=lambda order: order.pk)


def _given_since(plan: Plan, season: bridge.Season, bought: set[str]) -> list[str]:
    """Names of houses that have more in them than the plan knew, and not by the plan itself."""
    organisation = plan.organisation
    houses = {house.slug: house for house in any_house_of(organisation=organisation).filter(plans=plan)}
    before, given = bridge.sizes_in_house(season), used_in_houses(plan=plan)
    names = set()
    for piece in bridge.in_house(houses.values()):
        key = piece.house, piece.material
        given[key] -= piece.quantity * (piece.length or 1)
        if piece.material in bought and before[key] + given[key] < 0:
            names.add(houses[piece.house].name)
    return sorted(names)
