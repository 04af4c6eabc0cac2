"""What all rooms of hoops say of lengths, and how problems are gathered by field."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import UnitSystem, format_both, format_length


def say(length: Decimal | float, units: UnitSystem | str) -> str:
    """A length in mm as the reader says it."""
    return format_length(to_decimal(length), UnitSystem(units))


def both(length: Decimal | float, units: UnitSystem | str) -> str:
    """A length in mm in the reader's units, and in the other."""
    return " · ".join(format_both(to_decimal(length), UnitSystem(units)))


def in_both(length: Decimal | float, units: UnitSystem | str) -> tuple[str, str]:
    """A length in mm in the reader's units, and in the other, apart."""
    return format_both(to_decimal(length), UnitSystem(units))


def to_decimal(length: Decimal | float) -> Decimal:
    """mm to six places."""
    return length if isinstance(length, Decimal) else Decimal(repr(round(length, 6)))


@dataclass
class Problems:
    """Messages by field, as they are found."""

    found: dict[str, list[str]]

    def add(self, field: str, message: str) -> None:
        self.found.setdefault(field, []).append(message)
