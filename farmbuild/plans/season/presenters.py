"""The season line as pages show it."""

from __future__ import annotations

from datetime import date

from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.common.season_line import SeasonLine
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.bridge import Season, SeasonPlan
from farmbuild.plans.models import Plan
from farmbuild.plans.season.rows import by_urgency, house_row, order_row, supplied_row
from farmbuild.plans.season.selectors import (
    Places,
    days_of_houses,
    days_of_open_orders,
    days_of_orders,
    tried_days,
)

#: Open orders that are drawn; the list below them has all.
MOST_ORDERS = 24


def work_line(*, organisation: Organisation, title: str, places: Places | None = None) -> SeasonLine:
    """A row a house that has tasks. ``places``: where a schedule puts them."""
    today: date = today_of(organisation=organisation)
    houses = sorted(days_of_houses(organisation=organisation, places=places), key=by_urgency)
    rows = [house_row(house, today=today) for house in houses]
    return SeasonLine(title, rows, today, limit=gettext("to stand by this day"))


def plan_line(*, plan: Plan, season: Season, result: SeasonPlan) -> SeasonLine:
    """A row a house of the plan, and a row an order; of a plan that is only tried, what it would order."""
    today = today_of(organisation=plan.organisation)
    keys = plan.houses.order_by().values_list("pk", flat=True)
    houses = sorted(
        days_of_houses(organisation=plan.organisation, houses=list(keys)),
        key=lambda house: (bool(house.tasks) and house.tasks_done == house.tasks, house.need, house.name),
    )
    if plan.accepted_at:
        orders = [order_row(order, today=today) for order in days_of_orders(plan=plan)]
    else:
        href = reverse("plans:orders", args=[plan.number])
        tried = tried_days(season, result, number=plan.number)
        orders = [order_row(order, href=href, today=today) for order in tried]
    return SeasonLine(
        gettext("The season of plan %(number)s: houses and orders by week") % {"number": plan.number},
        [supplied_row(house, today=today) for house in houses],
        today,
        limit=gettext("materials needed by this day"),
        orders=orders,
    )


def open_orders_line(*, organisation: Organisation) -> SeasonLine:
    """A row an order that waits to go out or to come."""
    today = today_of(organisation=organisation)
    orders = days_of_open_orders(organisation=organisation, most=MOST_ORDERS)
    rows = [order_row(order, today=today) for order in orders]
    return SeasonLine(gettext("Orders that wait to go out or to come, by week"), rows, today, noun="order")
