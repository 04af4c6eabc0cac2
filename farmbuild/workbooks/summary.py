"""What a season plan comes to, in a sentence, and what to look at before ordering."""

from __future__ import annotations

from datetime import date

from farmbuild.measure import format_money, join_words
from farmbuild.planning.buying.unknown import unknown_leads
from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def summary(season: Season, plan: SeasonPlan) -> str:
    """The answer in one sentence, with numbers and a date."""
    currency = season.buyer.currency
    houses = _count(len(season.houses), "house", "houses")
    left = f"the leftovers have a value of {format_money(plan.leftover_value, currency)}"
    if plan.from_common:
        paid = sum(row.amount for row in plan.from_common)
        pieces = _count(sum(row.quantity for row in plan.from_common), "piece", "pieces")
        left = f"{pieces} from common stock for {format_money(paid, currency)}; {left}"
    if not plan.orders:
        return f"{houses}: nothing to order; {left}."
    total = sum(order.total for order in plan.orders)
    orders = _count(len(plan.orders), "order", "orders")
    by = min(order.order_by for order in plan.orders)
    return f"{houses}: {orders} for {format_money(total, currency)} in all, to go out by {_day(by)}; {left}."


def cautions(season: Season, plan: SeasonPlan) -> list[str]:
    """What comes late, what cannot be bought, and what is not proven best; a sentence each."""
    found = []
    currency = season.buyer.currency
    suppliers = {supplier.code: supplier.name for supplier in season.suppliers}
    for order in plan.orders:
        late = [line for line in order.lines if line.late_days]
        if late:
            days = max(line.late_days for line in late)
            found.append(
                f"{suppliers[order.supplier]}: {_count(len(late), 'line comes', 'lines come')} late, "
                f"by up to {_count(days, 'day', 'days')}."
            )
    for code, things in unknown_leads(season, plan).items():
        found.append(f"{suppliers[code]} has not said how long it takes for {join_words(things)}. Ask before ordering.")
    if plan.unmet:
        found.append(
            f"{_count(len(plan.unmet), 'thing', 'things')} cannot be bought at all; the reasons are in cut-list.xlsx, "
            "on the sheet Cannot be bought."
        )
    if plan.together:
        if not plan.together.optimal:
            gap = plan.together.cost - plan.together.bound
            found.append(f"Cheaper cuts and offers may exist, by at most {format_money(gap, currency)}.")
        return found
    if not plan.buying.optimal:
        gap = plan.buying.cost - plan.buying.bound
        found.append(f"A cheaper choice of offers may exist, by at most {format_money(gap, currency)}.")
    open_cuts = [row for row in plan.cut_summaries if not row.optimal]
    if open_cuts:
        gap = sum(row.cost - row.bound for row in open_cuts)
        found.append(f"A cheaper cut plan may exist, by at most {format_money(gap, currency)}.")
    return found
