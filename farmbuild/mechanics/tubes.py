"""Round tube sections: area, stiffness, mass and stated strength, and a catalogue of those that hoops are bent from.

Formulas: area pi/4 (OD^2 - ID^2), second moment pi/64 (OD^4 - ID^4), any strength-of-materials handbook. Steel at
7850 kg/m3 (0.2836 lb/in3) and 200 GPa.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

INCH = Decimal("25.4")
STEEL_KG_M3 = 7850.0
STEEL_E_MPA = 200_000.0
LB_PER_KG = 1 / 0.45359237
FT_PER_M = 1 / 0.3048


@dataclass(frozen=True)
class TubeSection:
    """A round tube; lengths in mm, strengths in MPa (N/mm2).

    Raises ValueError when the wall is not thinner than half the outside diameter.
    """

    name: str
    od: Decimal
    wall: Decimal
    yield_mpa: float | None = None
    source: str = ""
    e_mpa: float = STEEL_E_MPA
    kg_per_m3: float = STEEL_KG_M3

    def __post_init__(self) -> None:
        if not 0 < self.wall < self.od / 2:
            raise ValueError(f"{self.name}: a wall of {self.wall} mm does not fit an outside diameter of {self.od} mm")

    @property
    def bore(self) -> Decimal:
        """Inside diameter, mm."""
        return self.od - 2 * self.wall

    @property
    def area(self) -> float:
        """mm2."""
        return math.pi / 4 * float(self.od**2 - self.bore**2)

    @property
    def second_moment(self) -> float:
        """I, mm4."""
        return math.pi / 64 * float(self.od**4 - self.bore**4)

    @property
    def section_modulus(self) -> float:
        """I / (OD / 2), mm3."""
        return self.second_moment / float(self.od / 2)

    @property
    def kg_per_m(self) -> float:
        return self.area * 1e-6 * self.kg_per_m3

    @property
    def lb_per_ft(self) -> float:
        return self.kg_per_m * LB_PER_KG / FT_PER_M


_EMT = (
    "Nominal sizes of ANSI C80.3 / UL 797, as in the Steel Tube Institute's EMT table; "
    "yield: mild steel, 30 ksi, from memory"
)
_RAIL = (
    "Fence top rail at a common wall (common practice, no source); "
    "yield: ASTM F1043 group IC pipe, 50 ksi, from memory; light rail may be softer, so ask the maker"
)
_PIPE = "ASME B36.10M, schedule 40; yield: ASTM A53 grade A, 30 ksi, the least that such pipe is sold to"


def _inches(name: str, od: str, wall: str, yield_mpa: float, source: str) -> TubeSection:
    return TubeSection(name, Decimal(od) * INCH, Decimal(wall) * INCH, yield_mpa, source)


#: Code of the catalogue material, and its section. Yield strengths are the least that such steel is sold to.
TUBES: dict[str, TubeSection] = {
    "emt-1-2": _inches('EMT 1/2"', "0.706", "0.042", 207, _EMT),
    "emt-3-4": _inches('EMT 3/4"', "0.922", "0.049", 207, _EMT),
    "emt-1": _inches('EMT 1"', "1.163", "0.057", 207, _EMT),
    "emt-1-1-4": _inches('EMT 1-1/4"', "1.510", "0.065", 207, _EMT),
    "emt-1-1-2": _inches('EMT 1-1/2"', "1.740", "0.065", 207, _EMT),
    "emt-2": _inches('EMT 2"', "2.197", "0.065", 207, _EMT),
    "rail-1-3-8": _inches('Fence top rail 1-3/8"', "1.375", "0.065", 345, _RAIL),
    "rail-1-3-8-light": _inches('Fence top rail 1-3/8", 0.047 wall', "1.375", "0.047", 345, _RAIL),
    "rail-1-3-8-055": _inches('Fence top rail 1-3/8", 0.055 wall', "1.375", "0.055", 345, _RAIL),
    "rail-1-3-8-083": _inches('Fence top rail 1-3/8", 0.083 wall', "1.375", "0.083", 345, _RAIL),
    "rail-1-3-8-095": _inches('Fence top rail 1-3/8", 0.095 wall', "1.375", "0.095", 345, _RAIL),
    "rail-1-315": _inches('Fence rail 1.315" (sold as 1-3/8)', "1.315", "0.065", 345, _RAIL),
    "rail-1-315-083": _inches('Fence rail 1.315" (sold as 1-3/8), 0.083 wall', "1.315", "0.083", 345, _RAIL),
    "rail-1-5-8": _inches('Fence top rail 1-5/8" (1.660)', "1.660", "0.065", 345, _RAIL),
    "rail-1-5-8-083": _inches('Fence top rail 1-5/8" (1.660), 0.083 wall', "1.660", "0.083", 345, _RAIL),
    "rail-1-7-8": _inches('Fence post 1-7/8" (1.900)', "1.900", "0.065", 345, _RAIL),
    "rail-1-7-8-083": _inches('Fence post 1-7/8" (1.900), 0.083 wall', "1.900", "0.083", 345, _RAIL),
    "pipe-1": _inches('Pipe 1", schedule 40', "1.315", "0.133", 205, _PIPE),
    "pipe-1-1-4": _inches('Pipe 1-1/4", schedule 40', "1.660", "0.140", 205, _PIPE),
    "pipe-1-1-2": _inches('Pipe 1-1/2", schedule 40', "1.900", "0.145", 205, _PIPE),
    "pipe-2": _inches('Pipe 2", schedule 40', "2.375", "0.154", 205, _PIPE),
}
