"""What the page of the yard shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.bars import Bar, bars
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said_count, said_list
from farmbuild.measure import UnitSystem, format_length, format_money
from farmbuild.orgs.models import Organisation
from farmbuild.plans.bridge import Season, house_names
from farmbuild.plans.from_yard.bridge import Builders, Further, WithoutBuying, builders_from, found_from
from farmbuild.plans.models import PlanFromYard

#: Houses in the picture; the list has all.
SHOWN = 12
#: Further houses that stand open; a phone has no room for forty.
OPEN = 8


@dataclass(frozen=True)
class HouseRow:
    """``value``: what its material would cost to buy; None where that was not asked."""

    name: str
    day: date
    value: Decimal | None


@dataclass(frozen=True)
class FurtherRow:
    """``pays`` None: not all of it can be bought, or ``why`` nobody can build it."""

    name: str
    day: date
    pays: Decimal | None
    buys: str
    comes: date | None
    in_time: bool
    why: str


@dataclass(frozen=True)
class FromYardShown:
    """``folded``: the rest of ``further``. ``untold``: further houses that were not looked at. ``crews``, ``benders``:
    whether any were looked at."""

    houses: list[HouseRow]
    further: list[FurtherRow]
    folded: list[FurtherRow]
    picture: SafeString | str
    proven: bool
    of: int
    untold: int
    crews: bool
    benders: bool
    value: Decimal

    @property
    def count(self) -> int:
        return len(self.houses)


def from_yard_shown(*, search: PlanFromYard, season: Season, organisation: Organisation) -> FromYardShown:
    found = found_from(search.found)
    builders = builders_from(search.asked)
    names, days = house_names(season), {house.ref: house.need_date for house in season.houses}
    values = dict(found.values)
    units = units_of(organisation)
    houses = [HouseRow(names[ref], days[ref], values.get(ref)) for ref in found.houses]
    further = [
        FurtherRow(
            name=names[one.house],
            day=days[one.house],
            pays=one.pays,
            buys=_buys(one, season, units),
            comes=one.comes,
            in_time=one.in_time,
            why=one.why,
        )
        for one in found.further
    ]
    return FromYardShown(
        houses=houses,
        further=further[:OPEN],
        folded=further[OPEN:],
        picture=_picture(houses, further, organisation.currency),
        proven=found.proven,
        of=len(season.houses),
        untold=len(season.houses) - len(houses) - len(further),
        crews=_crews(builders),
        benders=builders is not None and builders.benders,
        value=_value(found),
    )


def _crews(builders: Builders | None) -> bool:
    return builders is not None and builders.crews


def _value(found: WithoutBuying) -> Decimal:
    values = dict(found.values)
    return sum((values.get(ref, Decimal(0)) for ref in found.houses), Decimal(0))


def _buys(one: Further, season: Season, units: UnitSystem) -> str:
    """'26 pieces of Rail 1 3/8, 10'; ...'"""
    names = {material.code: material.name for material in season.materials}
    rows = []
    for material, length, n in one.buys:
        what = names[material] + (f", {format_length(length, units)}" if length else "")
        rows.append(gettext("%(pieces)s of %(what)s") % {"pieces": said_count(n, "piece"), "what": what})
    return said_list(rows)


def _picture(houses: list[HouseRow], further: list[FurtherRow], currency: str) -> SafeString | str:
    """First what the yard gives, filled by its worth where that is known; then what else takes, plain."""
    nothing = gettext("from the yard")
    rows = [(one.name, Bar(one.name, float(one.value or 0), 0.0, nothing)) for one in houses]
    for one in further:
        rows.append((one.name, Bar(one.name, 0.0, float(one.pays or 0), _end(one, currency))))
    rows = rows[:SHOWN]
    if not rows:
        return ""
    told = said_list([f"{name}: {bar.end}" for name, bar in rows])
    title = gettext("What each house takes beyond the yard")
    if any(one.value for one in houses):
        title = gettext("What the yard saves, filled, and what each other house takes")
    return bars([bar for _, bar in rows], title, told)


def _end(one: FurtherRow, currency: str) -> str:
    if one.why:
        return gettext("nobody can build it")
    if one.pays is None:
        return gettext("not all can be bought")
    if not one.pays and one.in_time:
        return gettext("on its way")
    if not one.pays:
        return gettext("nothing to buy, no crew in time")
    money = format_money(one.pays, currency)
    return money if one.in_time else gettext("%(money)s, no crew in time") % {"money": money}
