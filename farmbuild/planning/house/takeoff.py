"""What a house takes: every material with its quantity and how it was worked out.

Swaged sticks that join (hoops, purlins) are wanted whole; all else that is bought by length is wanted as
pieces and goes to the cut plan. Lengths are exact; only what a page shows of them is rounded.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import House
from farmbuild.planning.materials import Material
from farmbuild.planning.results import TakeoffRow


def take_off(house: House, materials: Mapping[str, Material], units: UnitSystem) -> tuple[TakeoffRow, ...]:
    """Take off one house that passes ``check_spec``.

    Parameters
    ----------
    materials
        By code; every code that the spec names is there.
    units
        The reader's: lengths in the working are said in these.

    Returns
    -------
    tuple of TakeoffRow
        In building order. Lengths in mm.
    """
    built = house_context(house.spec, materials, units, house.ref)
    return tuple(row for part in PARTS for row in part.rows(built))


@dataclass(frozen=True)
class MaterialTotal:
    """All that the rows want of one material in one length. ``total_length`` is 0 for counted things."""

    material: str
    length: Decimal | None
    whole: bool
    quantity: int
    unit: str
    total_length: Decimal


def totals_by_material(rows: Iterable[TakeoffRow]) -> tuple[MaterialTotal, ...]:
    """Sum the rows by material, whole or cut, and length: by code, whole sticks and long pieces first."""
    sums: dict[tuple[str, bool, Decimal | None, str], int] = {}
    for row in rows:
        key = (row.material, row.whole, row.length, row.unit)
        sums[key] = sums.get(key, 0) + row.quantity
    ordered = sorted(sums.items(), key=lambda item: (item[0][0], not item[0][1], -(item[0][2] or 0)))
    return tuple(
        MaterialTotal(material, length, whole, quantity, unit, (length or Decimal(0)) * quantity)
        for (material, whole, length, unit), quantity in ordered
    )
