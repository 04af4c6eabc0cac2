"""What a plan orders without knowing when it comes."""

from __future__ import annotations

from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan


def unknown_leads(season: Season, plan: SeasonPlan) -> dict[str, tuple[str, ...]]:
    """By the code of each supplier that has not said how long it takes: the things that rest on it."""
    silent = {offer.ref for offer in season.offers if offer.lead_days is None}
    found = {
        order.supplier: tuple(dict.fromkeys(line.description for line in order.lines if line.offer in silent))
        for order in plan.orders
    }
    return {supplier: things for supplier, things in found.items() if things}
