"""What sizes a field usually has, and the question back where a number without a unit is far off in its own unit.

The bounds are common practice, no source. Nothing is refused by them: one press says which was meant.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure.lengths import (
    LengthError,
    Unit,
    UnitSystem,
    bare_unit,
    either,
    has_unit,
    parse_length,
)
from farmbuild.measure.numbers import NumberError, read_decimal
from farmbuild.measure.speech import sentence

#: So many times outside its sense a number is asked about even where no other unit fits (our own choice).
FAR = 3
#: In which units the number may have been meant, the likeliest first.
_UNITS = {
    UnitSystem.IMPERIAL: (Unit.INCH, Unit.FOOT, Unit.MILLIMETRE),
    UnitSystem.METRIC: (Unit.MILLIMETRE, Unit.METRE, Unit.CENTIMETRE),
}


@dataclass(frozen=True)
class Sense:
    """From ``low`` to ``high`` mm a size is plain."""

    low: Decimal
    high: Decimal

    def holds(self, length: Decimal) -> bool:
        return self.low <= length <= self.high

    def far(self, length: Decimal) -> bool:
        return length * FAR < self.low or length > self.high * FAR


def sense(low: int | str, high: int | str) -> Sense:
    return Sense(Decimal(low), Decimal(high))


#: Across a house, along it, between hoops; a post, a door, a stick; pieces of a joint; distances on a stick; a radius.
ACROSS, ALONG, APART = sense(1_500, 15_000), sense(2_000, 150_000), sense(500, 3_000)
POST, DEPTH, DOOR, BRACE = sense(300, 4_000), sense(100, 2_000), sense(500, 6_000), sense(500, 6_000)
STICK, ROLL = sense(900, 15_000), sense(900, 300_000)
JOINT, GAP, SPACING, SPARE = sense(20, 600), sense(1, 150), sense(50, 3_000), sense(20, 3_000)
RADIUS, RISE = sense(400, 10_000), sense(300, 8_000)
OFFCUT = sense(50, 15_000)
#: Of one piece in stock, offcuts among them, by kind of material.
PIECES = {"tube": OFFCUT, "lumber": OFFCUT, "film": ROLL, "channel": ROLL}


@dataclass(frozen=True)
class AskedBack:
    """``readings`` can be typed as they stand, the one as the field reads it last."""

    question: str
    readings: tuple[str, ...]


def ask_back(text: str, default_unit: Unit, system: UnitSystem, sense: Sense) -> AskedBack | None:
    """None where a unit was typed, the size is plain, or nothing more sensible could be meant.

    ``text`` is one that ``parse_length`` reads.
    """
    typed = " ".join(text.split())
    length = parse_length(typed, default_unit)
    if has_unit(typed) or length == 0 or sense.holds(length):
        return None
    own = _own_unit(typed, default_unit)
    fitting = [unit for unit in _UNITS[system] if unit is not own and sense.holds(_as(typed, unit))]
    if system == UnitSystem.IMPERIAL and len(fitting) > 1:
        # Millimetres are asked about only where nothing of the own units would do.
        fitting = [unit for unit in fitting if unit is not Unit.MILLIMETRE]
    if not fitting and not sense.far(length):
        return None
    readings = tuple(f"{typed} {unit}" for unit in [*fitting, own])
    if not fitting:
        asked = sentence("%(typed)s is %(reading)s here. Is that right?", typed=typed, reading=readings[-1])
        return AskedBack(asked, readings)
    asked = sentence(
        "%(typed)s: did you mean %(meant)s? Without a unit it is %(reading)s here.",
        typed=typed,
        meant=either(*readings[:-1]),
        reading=readings[-1],
    )
    return AskedBack(asked, readings)


def _own_unit(typed: str, default_unit: Unit) -> Unit:
    """A fraction is no hundred of metres."""
    try:
        return bare_unit(read_decimal(typed), default_unit)
    except NumberError:
        return default_unit


def _as(typed: str, unit: Unit) -> Decimal:
    """-1 where it is no length in that unit."""
    try:
        return parse_length(f"{typed} {unit}", unit)
    except LengthError:
        return Decimal(-1)
