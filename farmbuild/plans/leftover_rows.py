"""What is still there when every house of a plan stands, and where everything went."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.plans.bridge import Balance, Season, SeasonPlan

SOURCES = {"lot": "not used", "bought": "rest of a pack", "cut": "left from cutting"}


@dataclass(frozen=True)
class LeftRow:
    material: str
    length: Decimal | None
    quantity: int
    place: str
    lot: str
    what: str
    offcut: bool
    value: Decimal


def rows_of(season: Season, plan: SeasonPlan) -> list[LeftRow]:
    """In the planner's order; a place that is a site goes by the site's name."""
    names = {material.code: material.name for material in season.materials}
    sites = {site.code: site.name for site in season.sites}
    return [
        LeftRow(
            material=names[row.material],
            length=row.length,
            quantity=row.quantity,
            place=sites.get(row.place, row.place),
            lot=row.lot,
            what=f"{'Offcut' if row.offcut else 'Whole'}, {SOURCES[row.source]}",
            offcut=row.offcut,
            value=row.value,
        )
        for row in plan.leftovers
    ]


def offcut_pieces(rows: Iterable[LeftRow]) -> int:
    return sum(row.quantity for row in rows if row.offcut)


@dataclass(frozen=True)
class BalanceRow:
    material: str
    balance: Balance


def balances_of(season: Season, plan: SeasonPlan) -> list[BalanceRow]:
    names = {material.code: material.name for material in season.materials}
    return [BalanceRow(names[balance.material], balance) for balance in plan.balances]
