"""How much one plan may be of: beyond it neither the plan nor its pages are ready in the time that people wait."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from farmbuild.measure import UnitSystem, format_count
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.shape import bays_in
from farmbuild.planning.house.spec import House
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import Season
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow

#: Hoops of all houses, and all that their take-offs want by length: sticks and cut pieces.
MAX_HOOPS, MAX_PIECES = 20_000, 100_000


def why_too_large(season: Season) -> str:
    """For whoever ticked the houses; "" where they fit. A house that cannot be built is told of elsewhere."""
    materials = {material.code: material for material in season.materials}
    units = season.buyer.units
    sound = [house for house in season.houses if not check_spec(house.spec, materials, units)]
    return why_too_many(sound, _rows(sound, materials, units))


def why_too_many(houses: Iterable[House], rows: Iterable[TakeoffRow]) -> str:
    """The same of houses that were taken off already."""
    hoops = sum(bays_in(house.spec.length, house.spec.spacing_wanted) + 1 for house in houses)
    pieces = sum(row.quantity for row in rows if row.length)
    if hoops <= MAX_HOOPS and pieces <= MAX_PIECES:
        return ""
    have = f"{format_count(hoops)} hoops" if hoops > MAX_HOOPS else f"{format_count(pieces)} sticks and pieces"
    return (
        f"These houses have {have}. One plan takes at most {format_count(MAX_HOOPS)} hoops and"
        f" {format_count(MAX_PIECES)} sticks and pieces. Plan them in parts, some houses in each."
    )


def _rows(houses: list[House], materials: Mapping[str, Material], units: UnitSystem) -> list[TakeoffRow]:
    return [row for house in houses for row in take_off(house, materials, units)]
