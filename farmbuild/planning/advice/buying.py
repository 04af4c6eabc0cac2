"""What another way of buying would save or cost: one stick length alone, a later delivery, no least order.

Each is the whole season planned again; nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from farmbuild.planning.advice.proof import Saving, compared, saving
from farmbuild.planning.inputs import Season
from farmbuild.planning.netting.market import Market
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import SeasonError, plan_season

#: Seasons that are planned again at most: of stick lengths, of days, of suppliers.
MOST_LENGTHS, MOST_DAYS, MOST_SUPPLIERS = 8, 4, 4
#: Nobody waits longer than so for a cheaper delivery: common practice, no source.
MOST_WAIT = timedelta(days=60)


@dataclass(frozen=True)
class OneLength:
    """Of a material that is cut, sticks of ``length`` alone are bought; mm."""

    material: str
    length: Decimal

    def applied(self, season: Season) -> Season:
        def stays(material: str, length: Decimal | None) -> bool:
            return material != self.material or length == self.length

        return replace(season, offers=tuple(one for one in season.offers if stays(one.material, one.length)))


@dataclass(frozen=True)
class Wait:
    """``houses`` that need their materials on the days ``was`` need them on ``until``."""

    houses: tuple[str, ...]
    was: tuple[date, ...]
    until: date

    def applied(self, season: Season) -> Season:
        later = tuple(
            replace(house, need_date=self.until) if house.ref in self.houses else house for house in season.houses
        )
        return replace(season, houses=later)


@dataclass(frozen=True)
class NoLeast:
    """``supplier`` takes an order of any size, where now none is below ``least``."""

    supplier: str
    least: Decimal

    def applied(self, season: Season) -> Season:
        return replace(
            season,
            suppliers=tuple(
                replace(one, minimum_order=Decimal(0)) if one.code == self.supplier else one for one in season.suppliers
            ),
        )


Buying = OneLength | Wait | NoLeast
#: Told how many seasons were planned again, of how many, and what is tried now.
Progress = Callable[[int, int, Buying], None]


def buying_advice(
    season: Season,
    plan: SeasonPlan,
    *,
    progress: Progress | None = None,
    ended: Callable[[], bool] = lambda: False,
) -> list[Saving]:
    """Of each stick length alone what it saves, or costs as below 0; of days and suppliers those that save.

    ``plan`` is that of the season. A length that does not serve all that the plan serves, or comes later, is left out.
    Once ``ended`` says so no more are tried. The same season gives the same advice.
    """
    maybe: list[Buying] = [*_lengths(season, plan), *_days(season), *_suppliers(season, plan)]
    found = []
    for n, one in enumerate(maybe):
        if ended():
            break

        def tell(*_: object, n: int = n, one: Buying = one) -> None:
            if progress:
                progress(n, len(maybe), one)

        tell()
        try:
            after = plan_season(one.applied(season), progress=tell)
        except SeasonError:
            continue
        tried = compared(one, plan, after) if isinstance(one, OneLength) else saving(one, plan, after)
        if tried:
            found.append(tried)
    return found


def _lengths(season: Season, plan: SeasonPlan) -> Iterator[OneLength]:
    """Each length on offer of what is cut in more than one, the dearest material first."""
    market = Market.of(season.offers, season.as_of)
    spent: dict[str, Decimal] = {}
    for order in plan.orders:
        for line in order.lines:
            spent[line.material] = spent.get(line.material, Decimal(0)) + line.line_total
    longest: dict[str, Decimal] = {}
    for layout in plan.layouts:
        for piece in layout.pieces:
            longest[layout.material] = max(piece.length, longest.get(layout.material, Decimal(0)))
    found = []
    for material in sorted((code for code in longest if code in spent), key=lambda code: (-spent[code], code)):
        lengths = [length for length in market.lengths.get(material, ()) if length >= longest[material]]
        if len(market.lengths.get(material, ())) > 1:
            found += [OneLength(material, length) for length in lengths]
    yield from found[:MOST_LENGTHS]


def _days(season: Season) -> Iterator[Wait]:
    """Days on which something on offer comes, too late for a house: the soonest first."""
    market = Market.of(season.offers, season.as_of)
    days = {day for offers in market.offers.values() for offer in offers if (day := market.arrival(offer))}
    tried = 0
    for day in sorted(days):
        houses = [house for house in season.houses if house.need_date < day <= house.need_date + MOST_WAIT]
        if houses and tried < MOST_DAYS:
            tried += 1
            yield Wait(tuple(house.ref for house in houses), tuple(house.need_date for house in houses), day)


def _suppliers(season: Season, plan: SeasonPlan) -> Iterator[NoLeast]:
    """Those who take no small orders, first those from whom the plan buys."""
    buys = {order.supplier for order in plan.orders}
    asking = [one for one in season.suppliers if one.minimum_order > 0]
    asking.sort(key=lambda one: (one.code not in buys, -one.minimum_order, one.code))
    for one in asking[:MOST_SUPPLIERS]:
        yield NoLeast(one.code, one.minimum_order)
