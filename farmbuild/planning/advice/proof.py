"""What a change saves: the whole season planned again with it, and the two plans compared."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from farmbuild.planning.advice.changes import Change, changed
from farmbuild.planning.advice.near import near_misses
from farmbuild.planning.inputs import Season
from farmbuild.planning.netting.cuts import OFFCUT_SHARE
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import SeasonError, plan_season

#: Told how many seasons were planned again, of how many, and what is tried now; often enough to show a sign of life.
Progress = Callable[[int, int, Change | None], None]
#: Seasons that are planned again at most.
MAX_TRIES = 24
#: What saves less than this share of all orders is not told.
LEAST_SHARE = Decimal("0.001")


@dataclass(frozen=True)
class Saving:
    """What a change saves, one of ``changes`` or of ``buying``. ``saved``: less to pay for all orders, with delivery
    and tax; ``left``: by how much more (or less) the leftovers are worth; ``fewer``: pieces that are bought fewer, by
    material and length, more as below 0."""

    change: Any
    saved: Decimal
    left: Decimal
    fewer: tuple[tuple[str, Decimal | None, int], ...]


def pays(plan: SeasonPlan) -> Decimal:
    return sum((order.total for order in plan.orders), Decimal(0))


def saving(change: Any, before: SeasonPlan, after: SeasonPlan) -> Saving | None:
    """None where it does not pay: hardly less to pay, or as much lost of the leftovers, which count half, or something
    is missing or late."""
    found = compared(change, before, after)
    if found is None or found.saved <= LEAST_SHARE * pays(before) or found.saved + OFFCUT_SHARE * found.left <= 0:
        return None
    return found


def compared(change: Any, before: SeasonPlan, after: SeasonPlan) -> Saving | None:
    """Whether it pays or not; None where something is missing or late with it that was not before."""
    if _missing(after) > _missing(before) or _late(after) > _late(before):
        return None
    bought, now = _bought(before), _bought(after)
    fewer = {item: bought[item] - now[item] for item in sorted({*bought, *now}, key=lambda it: (it[0], it[1] or 0))}
    rows = tuple((*item, n) for item, n in fewer.items() if n)
    return Saving(change, pays(before) - pays(after), after.leftover_value - before.leftover_value, rows)


def savings(
    season: Season,
    plan: SeasonPlan,
    *,
    tries: int = MAX_TRIES,
    progress: Progress | None = None,
    ended: Callable[[], bool] = lambda: False,
) -> list[Saving]:
    """The changes that pay, the most first; of one field and its houses a greater change only where it saves more.

    ``plan`` is that of the season, which is planned again at most ``tries`` times, and no more once ``ended`` says so:
    a season is planned whole or not at all, so that what is given saves what it says.
    """
    maybe = list(dict.fromkeys(one.change for one in near_misses(season, plan)))[:tries]
    found = []
    for n, change in enumerate(maybe):
        if ended():
            break

        def tell(*_: object, n: int = n, change: Change = change) -> None:
            if progress:
                progress(n, len(maybe), change)

        tell()
        try:
            after = plan_season(changed(season, change), progress=tell)
        except SeasonError:
            continue
        if one := saving(change, plan, after):
            found.append(one)
    if progress:
        progress(len(maybe), len(maybe), None)
    found.sort(key=lambda one: (-one.saved, one.change.by, one.change.field, one.change.houses))
    return [one for n, one in enumerate(found) if not any(_no_worse(other, one) for other in found[:n])]


def _no_worse(one: Saving, other: Saving) -> bool:
    """Of the same field and houses, no greater, and saves no less."""
    same = (one.change.field, one.change.houses) == (other.change.field, other.change.houses)
    return same and one.change.by <= other.change.by and one.saved >= other.saved


def _missing(plan: SeasonPlan) -> int:
    return sum(gap.quantity for gap in plan.unmet)


def _late(plan: SeasonPlan) -> int:
    return sum(line.late_days for order in plan.orders for line in order.lines)


def _bought(plan: SeasonPlan) -> Counter[tuple[str, Decimal | None]]:
    sums: Counter[tuple[str, Decimal | None]] = Counter()
    for order in plan.orders:
        for line in order.lines:
            sums[line.material, line.length] += line.quantity
    return sums
