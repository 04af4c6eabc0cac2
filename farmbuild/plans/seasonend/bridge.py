"""Asks the planner which of what is left the next houses would use."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache

from farmbuild.orgs.models import Organisation
from farmbuild.planning.season.naming import house_names
from farmbuild.plans.bridge import Season, SeasonError, is_on_order, season_for, work_out
from farmbuild.sites.models import House

__all__ = ["Part", "SeasonError", "Serving", "serving_of"]


@dataclass(frozen=True)
class Part:
    """So many pieces for one purpose of one house; ``length`` is None for sticks used whole and counted things."""

    house: str
    purpose: str
    length: Decimal | None
    pieces: int


@dataclass
class Serving:
    """One lot: ``sticks`` of it are used out of ``there`` that these houses may have."""

    there: int
    sticks: int = 0
    parts: list[Part] = field(default_factory=list)


def serving_of(*, organisation: Organisation, houses: Collection[House], as_of: date) -> dict[str, Serving]:
    """By the lot's reference, for lots that serve at least one of these houses.

    They are planned together over the lots on hand, less what other houses hold; what is on order is left out, so
    that what lies there is used first. Raises SeasonError with sentences when they cannot be planned.
    """
    if not houses:
        return {}
    first = min(houses, key=lambda house: (house.need_date, house.slug))
    season = season_for(organisation=organisation, houses=houses, delivery_site=first.site, as_of=as_of)
    return _serving(replace(season, lots=tuple(lot for lot in season.lots if not is_on_order(lot.ref))))


# The same season gives the same plan, so leafing through the pages works it out once.
@lru_cache(maxsize=8)
def _serving(season: Season) -> dict[str, Serving]:
    plan = work_out(season)
    names = house_names(season)
    there = {lot.ref: lot.quantity for lot in season.lots}
    served: dict[str, Serving] = {}
    parts: dict[str, Counter[tuple[str, str, Decimal | None]]] = defaultdict(Counter)
    for row in plan.allocations:
        served.setdefault(row.lot, Serving(there[row.lot])).sticks += row.quantity
        parts[row.lot][row.house, row.purpose, None] += row.quantity
    for layout in plan.layouts:
        if layout.lot:
            served.setdefault(layout.lot, Serving(there[layout.lot])).sticks += layout.times
            for piece in layout.pieces:
                parts[layout.lot][piece.house, piece.purpose, piece.length] += layout.times
    for ref, serving in served.items():
        serving.parts = [
            Part(names[house], purpose, length, pieces)
            for (house, purpose, length), pieces in sorted(
                parts[ref].items(), key=lambda item: (names[item[0][0]], item[0][1], item[0][2] or 0)
            )
        ]
    return served
