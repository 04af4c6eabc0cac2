"""What each house of a plan needs, and where every piece of it comes from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum

from django.utils.translation import gettext

from farmbuild.catalogue.words import piece_noun
from farmbuild.common.speaking import said_noun
from farmbuild.plans.bridge import Material, Season, SeasonPlan, TakeoffRow, is_in_common, is_on_order, lot_name

Key = tuple[str, str, str, Decimal | None]


class From(StrEnum):
    HOUSE = "house"
    YARD = "yard"
    BOUGHT = "bought"
    NOWHERE = "nowhere"


@dataclass(frozen=True)
class Source:
    """So many, whole or cut from a stick of ``stick_length`` mm; ``lot`` and ``place`` for what is in the yard.

    ``part``: mm of each, of a run that is butted together from parts.
    """

    origin: From
    quantity: int
    lot: str = ""
    place: str = ""
    stick_length: Decimal | None = None
    reason: str = ""
    part: Decimal | None = None

    @property
    def lot_name(self) -> str:
        named = is_on_order(self.lot) or is_in_common(self.lot)
        return lot_name(self.lot) if named else gettext("lot %(lot)s") % {"lot": self.lot}

    @property
    def on_order(self) -> bool:
        return is_on_order(self.lot)

    @property
    def in_common(self) -> bool:
        return is_in_common(self.lot)


@dataclass(frozen=True)
class Need:
    row: TakeoffRow
    material: Material
    sources: tuple[Source, ...]

    @property
    def noun(self) -> str:
        return said_noun(2, piece_noun(self.material.kind))

    @property
    def run(self) -> bool:
        """Butted together from any lengths, so that its length counts, as in ``balance``."""
        return self.row.length is not None and self.material.butted

    @property
    def total_length(self) -> Decimal | None:
        """mm of all its runs; None for what is counted."""
        return self.row.length * self.row.quantity if self.run and self.row.length else None

    @property
    def wanted_length(self) -> Decimal | None:
        """The length in which it would have to be offered, where no other serves."""
        return self.row.length if self.row.whole else None

    @property
    def pieces(self) -> int:
        """How many pieces or things it is; of runs, the parts that they are made of."""
        return sum(source.quantity for source in self.sources) if self.run else self.row.quantity

    def quantity(self, origin: From) -> int:
        return sum(source.quantity for source in self.sources if source.origin == origin)

    def amount(self, *origins: From) -> Decimal:
        """Pieces that come from there, or mm of a run; from anywhere where none is named."""
        return sum(
            (source.quantity * (source.part or Decimal(1)) for source in self.sources if source.origin in origins),
            Decimal(0),
        )

    @property
    def in_house(self) -> int:
        return self.quantity(From.HOUSE)

    @property
    def from_yard(self) -> int:
        return self.quantity(From.YARD)

    @property
    def on_order(self) -> int:
        """Of what comes from the yard, what is still on its way there."""
        return sum(source.quantity for source in self.sources if source.on_order)

    @property
    def from_common(self) -> int:
        """Of what comes from the yard, what is fetched from common stock."""
        return sum(source.quantity for source in self.sources if source.in_common)

    @property
    def to_buy(self) -> int:
        return self.quantity(From.BOUGHT)

    @property
    def missing(self) -> int:
        return self.quantity(From.NOWHERE)


@dataclass(frozen=True)
class Total:
    """All that a plan needs of one material in one length; ``whole`` sticks keep their swage.

    ``run``: of what is butted together, in mm whatever the length of one run.
    """

    material: Material
    length: Decimal | None
    whole: bool
    unit: str
    run: bool
    quantity: Decimal
    in_house: Decimal
    from_yard: Decimal
    to_buy: Decimal
    missing: Decimal


def needs_of(season: Season, plan: SeasonPlan, *, house: str = "") -> list[Need]:
    """Every take-off row with what covers it, in the order of the take-off; of one house or of all."""
    materials = {material.code: material for material in season.materials}
    pools = _pools(plan)
    return [
        Need(
            row,
            materials[row.material],
            tuple(_drawn_run(row, pools) if _is_run(row, materials) else _drawn(row, pools)),
        )
        for row in plan.takeoff
        if row.quantity and house in ("", row.house)
    ]


def totals_of(needs: Iterable[Need]) -> list[Total]:
    """Sums by material, whole or cut, and length: longest first within a material."""
    groups: dict[tuple[str, bool, Decimal | None, str], list[Need]] = defaultdict(list)
    for need in needs:
        length = None if need.run else need.row.length
        groups[need.row.material, need.row.whole, length, need.row.unit].append(need)
    totals = [
        Total(
            material=rows[0].material,
            length=length,
            whole=whole,
            unit=unit,
            run=rows[0].run,
            quantity=sum((need.total_length or Decimal(need.row.quantity) for need in rows), Decimal(0)),
            in_house=_amount(rows, From.HOUSE),
            from_yard=_amount(rows, From.YARD),
            to_buy=_amount(rows, From.BOUGHT),
            missing=_amount(rows, From.NOWHERE),
        )
        for (_, whole, length, unit), rows in groups.items()
    ]
    return sorted(totals, key=lambda t: (t.material.name, t.material.code, not t.whole, -(t.length or 0)))


def _amount(needs: Iterable[Need], origin: From) -> Decimal:
    return sum((need.amount(origin) for need in needs), Decimal(0))


def _pools(plan: SeasonPlan) -> dict[Key, list[Source]]:
    """What the plan gives to each purpose of each house, still to be shared between its rows."""
    pools: dict[Key, list[Source]] = defaultdict(list)
    for there in plan.already_there:
        key = (there.house, there.purpose, there.material, there.length)
        pools[key].append(Source(From.HOUSE, there.quantity))
    for given in plan.allocations:
        key = (given.house, given.purpose, given.material, given.length)
        pools[key].append(Source(From.YARD, given.quantity, given.lot, given.place, given.length))
    cut: dict[tuple[Key, str, str, Decimal], int] = defaultdict(int)
    for layout in plan.layouts:
        for piece in layout.pieces:
            key = (piece.house, piece.purpose, layout.material, piece.length)
            cut[key, layout.lot, layout.place, layout.stick_length] += layout.times
    for (key, lot, place, stick), quantity in cut.items():
        pools[key].append(Source(From.YARD if lot else From.BOUGHT, quantity, lot, place, stick))
    for gap in plan.unmet:
        key = (gap.house, gap.purpose, gap.material, gap.length)
        pools[key].append(Source(From.NOWHERE, gap.quantity, reason=gap.reason))
    return pools


def _drawn(row: TakeoffRow, pools: dict[Key, list[Source]]) -> Iterator[Source]:
    """Take the row's share; what neither the yard, a cut nor a gap explains is bought whole."""
    left = row.quantity
    pool = pools.get((row.house, row.purpose, row.material, row.length), [])
    while left and pool:
        source = pool.pop(0)
        taken = min(left, source.quantity)
        if taken < source.quantity:
            pool.insert(0, replace(source, quantity=source.quantity - taken))
        left -= taken
        yield replace(source, quantity=taken)
    if left:
        yield Source(From.BOUGHT, left, stick_length=row.length)


def _is_run(row: TakeoffRow, materials: Mapping[str, Material]) -> bool:
    return row.length is not None and materials[row.material].butted


def _drawn_run(row: TakeoffRow, pools: dict[Key, list[Source]]) -> Iterator[Source]:
    """Take parts of any length until the run is whole; what nothing explains is bought."""
    assert row.length is not None
    left = row.length * row.quantity
    for key in sorted((key for key in pools if key[:3] == (row.house, row.purpose, row.material)), key=_longest_first):
        part, pool = key[3], pools[key]
        while part and part <= left and pool:
            source = pool.pop(0)
            taken = min(int(left // part), source.quantity)
            if taken < source.quantity:
                pool.insert(0, replace(source, quantity=source.quantity - taken))
            left -= taken * part
            yield replace(source, quantity=taken, part=part)
    if left:
        yield Source(From.BOUGHT, 1, stick_length=left, part=left)


def _longest_first(key: Key) -> Decimal:
    return -(key[3] or Decimal(0))


@dataclass(frozen=True)
class Figures:
    quantity: int
    in_house: int
    from_yard: int
    on_order: int
    from_common: int
    to_buy: int
    missing: int


@dataclass(frozen=True)
class HouseFigures:
    ref: str
    name: str
    site: str
    need_date: date
    figures: Figures


def figures_of(needs: Iterable[Need]) -> Figures:
    """How many pieces and things there are in all, and where they come from."""
    rows = list(needs)
    return Figures(
        quantity=sum(need.pieces for need in rows),
        in_house=sum(need.in_house for need in rows),
        from_yard=sum(need.from_yard for need in rows),
        on_order=sum(need.on_order for need in rows),
        from_common=sum(need.from_common for need in rows),
        to_buy=sum(need.to_buy for need in rows),
        missing=sum(need.missing for need in rows),
    )


def houses_of(season: Season, needs: Iterable[Need]) -> list[HouseFigures]:
    """The figures of each house, in the order in which they are needed."""
    sites = {site.code: site.name for site in season.sites}
    rows: dict[str, list[Need]] = defaultdict(list)
    for need in needs:
        rows[need.row.house].append(need)
    return [
        HouseFigures(house.ref, house.name, sites[house.site], house.need_date, figures_of(rows[house.ref]))
        for house in sorted(season.houses, key=lambda house: (house.need_date, house.ref))
    ]
