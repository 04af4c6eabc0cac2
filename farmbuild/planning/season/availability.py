"""What one thing's stock comes to day by day: on hand, what comes, what is taken, and when to order at the latest.

On a day what comes is counted before what is taken, as deliveries come in the morning (common practice, no source).
What should have come before today is not there, so it counts from tomorrow; what should have been taken counts today.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum


class Cause(StrEnum):
    ON_HAND = "on hand"
    INCOMING = "incoming"
    RESERVED = "reserved"
    DEMAND = "demand"


@dataclass(frozen=True)
class Change:
    """``quantity`` pieces, never below 0: they come when the cause is incoming, else they are taken."""

    day: date
    cause: Cause
    quantity: int
    note: str = ""

    @property
    def signed(self) -> int:
        return self.quantity if self.cause in (Cause.ON_HAND, Cause.INCOMING) else -self.quantity


@dataclass(frozen=True)
class Way:
    """One supplier's offer of it. It can be ordered until ``valid_until``; None: for good."""

    supplier: str
    #: None: the supplier has not said.
    lead_days: int | None
    valid_until: date | None = None


@dataclass(frozen=True)
class Step:
    """A change and what is there after it. ``day`` is when it counts; ``late`` when that is not its own day."""

    day: date
    change: Change
    balance: int

    @property
    def late(self) -> bool:
        return self.day != self.change.day


@dataclass(frozen=True)
class OrderBy:
    """The last day to order from ``supplier``; ``days_late`` of today after it, 0 while it can still be kept."""

    day: date
    supplier: str
    lead_days: int | None
    days_late: int


@dataclass(frozen=True)
class Outlook:
    """``short_on``: the first day that ends below 0, by ``short_by``; ``most_short`` over all days, 0 for never.

    ``order_by`` is None when it never runs short, or when nobody offers it any more.
    """

    steps: tuple[Step, ...]
    short_on: date | None
    short_by: int
    most_short: int
    order_by: OrderBy | None

    @property
    def balance(self) -> int:
        """What is there after the last change."""
        return self.steps[-1].balance


def look_ahead(*, on_hand: int, changes: Iterable[Change], ways: Iterable[Way], today: date) -> Outlook:
    """Add everything up by day, from what is on hand today."""
    start = Change(today, Cause.ON_HAND, on_hand)
    placed = sorted(
        ((_counts_on(change, today), change) for change in changes if change.quantity),
        key=lambda pair: (pair[0], pair[1].signed < 0, pair[1].day, pair[1].cause, pair[1].note),
    )
    balance = on_hand
    steps = [Step(today, start, balance)]
    ends: dict[date, int] = {today: balance}
    for day, change in placed:
        balance += change.signed
        steps.append(Step(day, change, balance))
        ends[day] = balance
    short_on = next((day for day, left in ends.items() if left < 0), None)
    return Outlook(
        steps=tuple(steps),
        short_on=short_on,
        short_by=-ends[short_on] if short_on else 0,
        most_short=max(0, -min(ends.values())),
        order_by=last_order(short_on, ways, today=today) if short_on else None,
    )


def _counts_on(change: Change, today: date) -> date:
    if change.cause is Cause.INCOMING and change.day < today:
        return today + timedelta(days=1)
    return max(change.day, today)


def last_order(needed: date, ways: Iterable[Way], *, today: date) -> OrderBy | None:
    """The latest day to order for ``needed`` over the offers that hold today; of equals the first supplier by name.

    An offer without a lead time counts where none has one, and then it is today: no later day is safe.
    """
    held = [way for way in ways if way.valid_until is None or way.valid_until >= today]
    found = [
        (min(needed - timedelta(days=way.lead_days), way.valid_until or date.max), way)
        for way in held
        if way.lead_days is not None
    ]
    if not found:
        silent = min((way.supplier for way in held), default=None)
        return None if silent is None else OrderBy(today, silent, None, 0)
    day, way = min(found, key=lambda pair: (-pair[0].toordinal(), pair[1].lead_days, pair[1].supplier))
    return OrderBy(day, way.supplier, way.lead_days, max(0, (today - day).days))
