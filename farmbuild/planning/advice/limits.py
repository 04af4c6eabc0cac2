"""What no choice of houses can go beyond, by counting alone: pieces that the yard could give at the very most."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.materials import Kind
from farmbuild.planning.netting.in_house import HALF_LINE, subtract_in_house
from farmbuild.planning.netting.joints import OF_JOINTS
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class Limit:
    """Of what each house ``takes``, all that are chosen together take ``there`` at most."""

    takes: Mapping[str, int]
    there: int


def stock_limits(season: Season) -> Iterator[Limit]:
    """Of each counted thing its number; of pieces of each length or more, how many all sticks could give at most.

    A stick gives as many pieces of a length as it holds without a saw cut, so what a plan can do is never shut out.
    Runs take sticks of any length, channel is laid end to end, and what follows joints is as many as these have: none
    of them is counted.
    """
    lots: defaultdict[str, list[Lot]] = defaultdict(list)
    for lot in season.lots:
        lots[lot.material].append(lot)
    wanted: defaultdict[str, list[TakeoffRow]] = defaultdict(list)
    for row in _rows(season):
        wanted[row.material].append(row)
    for material, rows in sorted(wanted.items()):
        for length in sorted({row.length for row in rows}, key=lambda one: one or Decimal(0)):
            takes: dict[str, int] = {}
            for row in rows:
                if length is None or (row.length is not None and row.length >= length):
                    takes[row.house] = takes.get(row.house, 0) + row.quantity
            yield Limit(takes, sum(lot.quantity * _gives(lot, length) for lot in lots[material]))


def _rows(season: Season) -> Iterator[TakeoffRow]:
    materials = {one.code: one for one in season.materials}
    taken = [row for house in season.houses for row in take_off(house, materials, season.buyer.units)]
    for row in subtract_in_house(taken, season.in_house, materials, season.kerf).rows:
        end_to_end = row.run or materials[row.material].kind is Kind.CHANNEL
        if row.quantity and not end_to_end and row.purpose not in OF_JOINTS:
            yield row


def _gives(lot: Lot, length: Decimal | None) -> int:
    if length is None or lot.length is None:
        return 1
    return int((lot.length + HALF_LINE) // (length - HALF_LINE)) if length > HALF_LINE else lot.quantity
