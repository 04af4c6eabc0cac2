"""What a worked out plan uses, as holds: so many of a lot, of what is on its way, or of what the plan itself buys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from farmbuild.plans.bridge import CutLayout, Season, SeasonPlan
from farmbuild.plans.coverage import From, needs_of


@dataclass(frozen=True)
class WantedPiece:
    house: str
    purpose: str
    length: Decimal
    each: int


@dataclass(frozen=True)
class WantedReservation:
    """``source`` is a lot or an order line as the plan names it, "" for what the plan buys.

    ``pieces``: what each stick is cut into, () where it is used whole. Sticks cut for several houses are for the one
    that needs them first.
    """

    source: str
    material: str
    length: Decimal | None
    quantity: int
    house: str
    purpose: str
    need_by: date
    pieces: tuple[WantedPiece, ...] = ()


def wanted_reservations(season: Season, plan: SeasonPlan) -> list[WantedReservation]:
    """By need date, then by house; sources in the yard as the plan gave them out."""
    days = {house.ref: house.need_date for house in season.houses}
    wants = [
        WantedReservation(row.lot, row.material, row.length, row.quantity, row.house, row.purpose, days[row.house])
        for row in plan.allocations
    ]
    for need in needs_of(season, plan):
        row = need.row
        bought = sum(source.quantity for source in need.sources if source.origin == From.BOUGHT)
        # Bought sticks that are cut stand in the layouts.
        if bought and (row.whole or row.length is None):
            wants.append(
                WantedReservation("", row.material, row.length, bought, row.house, row.purpose, days[row.house])
            )
    wants += _cut(plan, days)
    return sorted(wants, key=lambda want: (want.need_by, want.house))


def _cut(plan: SeasonPlan, days: dict[str, date]) -> Iterator[WantedReservation]:
    alike: Counter[WantedReservation] = Counter()
    for layout in plan.layouts:
        alike[_of_stick(layout, days)] += layout.times
    for want, times in alike.items():
        yield replace(want, quantity=times)


def _of_stick(layout: CutLayout, days: dict[str, date]) -> WantedReservation:
    # What is used as it is lies there, and is handed out, in the length that it has.
    own = layout.stick_length if layout.uncut else None
    counts = Counter((piece.house, piece.purpose, own or piece.length) for piece in layout.pieces)
    pieces = tuple(WantedPiece(*key, each) for key, each in sorted(counts.items()))
    house, purpose, _ = min(counts, key=lambda key: (days[key[0]], key))
    return WantedReservation(layout.lot, layout.material, layout.stick_length, 0, house, purpose, days[house], pieces)
