"""What pipe weighs on an order."""

from __future__ import annotations

import math
from decimal import Decimal

#: Steel, kg a cubic millimetre (7850 kg/m3).
STEEL = 7850e-9


def tube_mass(outside: Decimal, wall: Decimal, length: Decimal) -> Decimal:
    """Mass in kg of a steel tube; lengths in mm."""
    area = math.pi * float(wall) * (float(outside) - float(wall))
    return Decimal(repr(round(area * float(length) * STEEL, 6)))
