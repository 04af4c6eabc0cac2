"""What the page of chances shows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.bars import Bar, bars
from farmbuild.common.speaking import said_count, said_list
from farmbuild.hoops.batches.services import HOOPS
from farmbuild.orgs.models import Organisation
from farmbuild.plans.bridge import Season, SeasonPlan
from farmbuild.plans.chances.bridge import SEASONS, WANTED, Chance, Waits, chances
from farmbuild.plans.chances.selectors import FEWEST_DELIVERIES, recorded_leads, recorded_spoil
from farmbuild.plans.coverage import From, Need, needs_of

#: Houses in the picture; all are in the table.
SHOWN = 12


@dataclass(frozen=True)
class ChanceRow:
    """``chance``: of a hundred seasons, rounded down."""

    name: str
    need_date: date
    chance: int
    order_by: date
    sure: bool


@dataclass(frozen=True)
class LeadRow:
    """``recorded``: deliveries that are counted; 0 where they were too few and what was promised is taken."""

    supplier: str
    least: int
    most: int
    recorded: int


@dataclass(frozen=True)
class ChancesShown:
    rows: list[ChanceRow]
    picture: SafeString | str
    leads: list[LeadRow]
    spoil: str
    seasons: int = SEASONS
    wanted: int = int(WANTED * 100)

    @property
    def sure(self) -> int:
        return sum(row.sure for row in self.rows)

    @property
    def unsure(self) -> list[ChanceRow]:
        return [row for row in self.rows if not row.sure]

    @property
    def order_by(self) -> date:
        """The day that makes it for every house."""
        return min(row.order_by for row in self.rows)

    @property
    def is_recorded(self) -> bool:
        return any(row.recorded for row in self.leads)


def chances_shown(*, organisation: Organisation, season: Season, result: SeasonPlan) -> ChancesShown:
    """Of all houses of a plan, those that need theirs first before the others."""
    names = {supplier.code: supplier.name for supplier in season.suppliers}
    recorded = {
        code: days for code, days in recorded_leads(organisation=organisation).items() if len(days) >= FEWEST_DELIVERIES
    }
    promised = _promised(season, result)
    leads = {code: recorded.get(code, [days]) for code, days in promised.items()}
    spoil = recorded_spoil(organisation=organisation)
    waits = _waits(season, result)
    found = chances(waits, leads, ordered_on=season.as_of, spoil=spoil or Fraction(0), spare=_spare(result, waits))
    houses = {house.ref: house for house in season.houses}
    rows = [
        ChanceRow(
            name=houses[one.house].name,
            need_date=houses[one.house].need_date,
            chance=int(one.share * 100),
            order_by=one.order_by,
            sure=one.share >= WANTED,
        )
        for one in found
    ]
    rows.sort(key=lambda row: (row.need_date, row.name))
    return ChancesShown(
        rows=rows,
        picture=_picture(found, {ref: house.name for ref, house in houses.items()}),
        leads=[LeadRow(names[code], min(days), max(days), len(recorded.get(code, ()))) for code, days in leads.items()],
        spoil=_spoilt(spoil),
    )


def _spoilt(share: Fraction | None) -> str:
    if share is None:
        return ""
    return gettext("%(spoilt)s of 100 sticks were spoilt in bending") % {"spoilt": int(share * 100)}


def _promised(season: Season, result: SeasonPlan) -> dict[str, int]:
    """Days that the slowest line of each order takes, as its supplier said; who said nothing comes at once."""
    offers = {offer.ref: offer.lead_days or 0 for offer in season.offers}
    days: dict[str, int] = defaultdict(int)
    for order in result.orders:
        for line in order.lines:
            days[order.supplier] = max(days[order.supplier], offers.get(line.offer, 0))
    return dict(days)


def _sellers(result: SeasonPlan) -> dict[tuple[str, Decimal | None], set[str]]:
    sellers: dict[tuple[str, Decimal | None], set[str]] = defaultdict(set)
    for order in result.orders:
        for line in order.lines:
            sellers[line.material, line.length].add(order.supplier)
    return sellers


def _waits(season: Season, result: SeasonPlan) -> list[Waits]:
    sellers = _sellers(result)
    needs: dict[str, list[Need]] = defaultdict(list)
    for need in needs_of(season, result):
        needs[need.row.house].append(need)
    waits = []
    for house in season.houses:
        own = needs[house.ref]
        suppliers = {name for need in own for item in _bought(need) for name in sellers.get(item, ())}
        bent = [need.row for need in own if need.row.purpose == HOOPS]
        tube = bent[0] if bent else None
        again = min(sellers.get((tube.material, tube.length), ()), default="") if tube else ""
        waits.append(
            Waits(
                house.ref,
                house.need_date,
                tuple(sorted(suppliers)),
                bends=sum(row.quantity for row in bent),
                tube=_key(tube.material, tube.length) if tube else "",
                again=again,
            )
        )
    return waits


def _bought(need: Need) -> Iterable[tuple[str, Decimal | None]]:
    for source in need.sources:
        if source.origin == From.BOUGHT:
            yield need.row.material, source.stick_length or need.row.length


def _key(material: str, length: Decimal | None) -> str:
    return f"{material} {length}"


def _spare(result: SeasonPlan, waits: list[Waits]) -> dict[str, int]:
    """Whole sticks that are left of the tubes when all houses stand."""
    tubes = {one.tube for one in waits if one.tube}
    spare: dict[str, int] = defaultdict(int)
    for left in result.leftovers:
        if (key := _key(left.material, left.length)) in tubes and not left.offcut:
            spare[key] += left.quantity
    return dict(spare)


def _picture(found: list[Chance], names: dict[str, str]) -> SafeString | str:
    if not found:
        return ""
    least = sorted(found, key=lambda one: (one.share, names[one.house]))[:SHOWN]
    told = [
        (names[one.house], float(one.share), gettext("%(chance)s of 100") % {"chance": int(one.share * 100)})
        for one in least
    ]
    more = len(found) - len(told)
    title = gettext("Chance of having all materials in time")
    if more:
        title = gettext("%(title)s; %(houses)s more are surer") % {"title": title, "houses": said_count(more, "house")}
    return bars(
        [Bar(name, share, 1 - share, words) for name, share, words in told],
        title,
        said_list([f"{name}: {words}" for name, _, words in told]),
    )
