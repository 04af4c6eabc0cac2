"""Demand against what is on hand, by need date: what the lots give, what is cut from what, what is to be
bought.

Order: houses by need date, then by ref, then in the order of the take-off. Whole sticks and counted things
are given out first, from lots on the house's own site, then from the lot with the lowest ref; never from
offcuts. What is left, and all offcuts, goes to the cut plans.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.planning.house.spec import House
from farmbuild.planning.inputs import Lot
from farmbuild.planning.materials import Material
from farmbuild.planning.netting.cuts import CutResult, Saw, cut_material
from farmbuild.planning.netting.joints import MoreJoints
from farmbuild.planning.netting.market import Item, Market
from farmbuild.planning.netting.runs import choose_sticks
from farmbuild.planning.netting.yard import Yard
from farmbuild.planning.results import Allocation, CutLayout, CutPlanSummary, Shortfall, TakeoffRow, Unmet


@dataclass(frozen=True)
class Need:
    """Something to buy, for one row of one house."""

    material: str
    length: Decimal | None
    quantity: int
    need_by: date
    house: str
    purpose: str


@dataclass
class Netting:
    """Filled step by step. ``to_cut``: rows that are cut, by material; ``uncut``: what the yard has of each lot before
    any is; ``cuts``: how."""

    allocations: list[Allocation] = field(default_factory=list)
    whole: list[Need] = field(default_factory=list)
    whole_unmet: list[Unmet] = field(default_factory=list)
    to_cut: dict[str, list[tuple[House, TakeoffRow]]] = field(default_factory=dict)
    uncut: dict[str, int] = field(default_factory=dict)
    cuts: dict[str, CutResult] = field(default_factory=dict)
    #: Joined runs, and the rows of sticks that were chosen for them; what their joints take, as these sticks want it.
    chosen: dict[TakeoffRow, list[TakeoffRow]] = field(default_factory=dict)

    @property
    def layouts(self) -> list[CutLayout]:
        return [layout for result in self.cuts.values() for layout in result.layouts]

    @property
    def summaries(self) -> list[CutPlanSummary]:
        return [result.summary for result in self.cuts.values()]

    @property
    def needs(self) -> list[Need]:
        """What is bought whole, then what is bought to be cut."""
        return [*self.whole, *(need for result in self.cuts.values() for need in _sticks(result))]

    @property
    def unmet(self) -> list[Unmet]:
        return [*self.whole_unmet, *(row for result in self.cuts.values() for row in result.unmet)]

    @property
    def ordered(self) -> Counter[Item]:
        """What is bought whole, by item."""
        sums = Counter[Item]()
        for need in self.whole:
            sums[need.material, need.length] += need.quantity
        return sums

    def shortfalls(self) -> tuple[Shortfall, ...]:
        sums: dict[tuple[str, Decimal | None, date], int] = {}
        for need in self.needs:
            key = (need.material, need.length, need.need_by)
            sums[key] = sums.get(key, 0) + need.quantity
        ordered = sorted(sums.items(), key=lambda item: (item[0][0], item[0][1] or 0, item[0][2]))
        return tuple(Shortfall(m, length, n, day) for (m, length, day), n in ordered)


def in_need_order(rows: Sequence[TakeoffRow], houses: Mapping[str, House]) -> list[tuple[House, TakeoffRow]]:
    """Rows with their houses: need date, then house ref, then as taken off (the sort is stable)."""
    pairs = [(houses[row.house], row) for row in rows]
    return sorted(pairs, key=lambda pair: (pair[0].need_date, pair[0].ref))


def net(
    rows: Sequence[TakeoffRow],
    houses: Iterable[House],
    materials: Mapping[str, Material],
    yard: Yard,
    market: Market,
    *,
    saw: Saw,
    before: Mapping[str, int] | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> Netting:
    """Net the take-off of all houses; the yard's quantities go down by what is used.

    ``saw`` holds for every cut plan. ``before``: taped joints more by house that ``rows`` have in them already.
    """
    out = Netting()
    ordered = in_need_order(rows, {house.ref: house for house in houses})
    cut = out.to_cut
    more: defaultdict[str, MoreJoints] = defaultdict(MoreJoints)
    for house, row in ordered:
        if row.whole and row.run and row.quantity:
            chosen = choose_sticks(row, yard, market, house.need_date, out.ordered, saw.units)
            out.chosen[row] = chosen
            more[house.ref].add(row, chosen)
            for part in chosen:
                _whole(out, house, part, materials[row.material], yard, market, saw.units)
            continue
        followed = more[house.ref].follow(house, row, materials, saw.units, before=(before or {}).get(house.ref, 0))
        if followed is not row:
            out.chosen[row] = [followed]
        if row.whole or row.length is None:
            _whole(out, house, followed, materials[row.material], yard, market, saw.units)
        elif followed.quantity:
            cut.setdefault(row.material, []).append((house, followed))
    out.uncut = dict(yard.left)
    for done, material in enumerate(sorted(cut)):
        if progress:
            progress(done, len(cut), f"Planning the cuts of {materials[material].name}")
        out.cuts[material] = cut_material(materials[material], cut[material], yard, market, saw, ordered=out.ordered)
    return out


def _sticks(result: CutResult) -> Iterator[Need]:
    for stick in result.to_buy:
        first = stick.pieces[0]
        yield Need(stick.material, stick.stick_length, stick.times, stick.need_by, first.house, first.purpose)


def _whole(
    out: Netting,
    house: House,
    row: TakeoffRow,
    material: Material,
    yard: Yard,
    market: Market,
    units: UnitSystem,
) -> None:
    left = row.quantity
    item, day = (row.material, row.length), house.need_date

    def pays(lot: Lot) -> bool:
        return market.beaten_by(item, lot.unit_cost, day, row.quantity + out.ordered[item])

    for lot, part in yard.take(row.material, row.length, row.quantity, house.site, day, pays):
        out.allocations.append(Allocation(lot.ref, lot.place, row.material, row.length, part, house.ref, row.purpose))
        left -= part
    if not left:
        return
    if market.sells(item):
        out.whole.append(Need(row.material, row.length, left, house.need_date, house.ref, row.purpose))
        return
    size = f" in {format_length(row.length, units)}" if row.length is not None else ""
    reason = f"The yard has {row.quantity - left} of {row.quantity}, and nobody offers {material.name}{size}."
    out.whole_unmet.append(Unmet(row.material, row.length, left, house.ref, row.purpose, reason))
