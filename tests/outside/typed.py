"""Lengths, counts and money as a person types them, read a second way: exact fractions, lengths in mm."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

INCH = Fraction(254, 10)
UNITS = {
    "'": 12 * INCH,
    "ft": 12 * INCH,
    '"': INCH,
    "in": INCH,
    "mil": INCH / 1000,
    "µm": Fraction(1, 1000),
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
IMPERIAL, METRIC = "feet and inches", "metres and millimetres"
_PART = re.compile(r"""\s*(?:(\d+)[\s-]+)?(\d+/\d+|\d+\.?\d*|\.\d+)\s*('|"|ft|in|mil|µm|mm|cm|m)?""")


def length(text: str, bare: str) -> Fraction:
    """7' 3 1/2", 93.5", 2.38 m, 2380 mm; a number without a unit is in ``bare``. Raises ValueError."""
    total, at, last = Fraction(0), 0, ""
    while at < len(text.rstrip()):
        part = _PART.match(text, at)
        if not part:
            raise ValueError(text)
        whole, number, unit = part.groups()
        unit = unit or ('"' if last in ("'", "ft") else bare)
        # Without a unit, a hundred and more is said in millimetres, also where smaller numbers are metres.
        if unit == "m" and part[3] is None and Fraction(number) >= 100:
            unit = "mm"
        total += (Fraction(whole or 0) + Fraction(number)) * UNITS[unit]
        at, last = part.end(), unit
    return total


def lengths(text: str, bare: str) -> list[Fraction]:
    return [length(part, bare) for part in re.split(r"[;\n]", text) if part.strip()]


def bare_unit(units: str, *, small: bool) -> str:
    """What a bare number is: inches or mm where things are small, else feet or metres."""
    if units == IMPERIAL:
        return '"' if small else "'"
    return "mm" if small else "m"


def coins(amount: Decimal, places: int = 2) -> Decimal:
    """Half up, as a bill is rounded."""
    return amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def yes(text: str) -> bool:
    return text.strip().lower() == "yes"
