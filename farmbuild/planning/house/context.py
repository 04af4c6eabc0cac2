"""What every part of the take-off works with: the house, its shape, and how a length is said and sawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from farmbuild.measure import UnitSystem, format_length
from farmbuild.planning.house.shape import HouseShape
from farmbuild.planning.house.spec import House, HouseSpec
from farmbuild.planning.inputs import Material
from farmbuild.planning.results import TakeoffRow

#: A saw is set to the sixteenth of an inch or the millimetre.
SAW_STEP = {UnitSystem.IMPERIAL: Decimal("1.5875"), UnitSystem.METRIC: Decimal(1)}


def saw_length(length: Decimal, units: UnitSystem) -> Decimal:
    """The least length, in mm, that a saw is set to and that is not shorter than ``length``."""
    step = SAW_STEP[units]
    return (length / step).to_integral_value(ROUND_CEILING) * step


@dataclass(frozen=True)
class Work:
    house: House
    shape: HouseShape
    materials: Mapping[str, Material]
    units: UnitSystem

    @property
    def spec(self) -> HouseSpec:
        return self.house.spec

    def say(self, length: Decimal) -> str:
        return format_length(length, self.units)

    def saw(self, length: Decimal) -> Decimal:
        return saw_length(length, self.units)

    def pieces(self, purpose: str, material: str, length: Decimal, quantity: int, working: str) -> TakeoffRow:
        """Pieces that may be cut from any stick or offcut."""
        return TakeoffRow(self.house.ref, purpose, material, length, quantity, "pieces", False, working)

    def counted(self, purpose: str, material: str, quantity: int, working: str) -> TakeoffRow:
        return TakeoffRow(self.house.ref, purpose, material, None, quantity, "each", True, working)
