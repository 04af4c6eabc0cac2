"""Lengths in millimetres as a page says them, in the reader's units and in the other."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.measure import UnitSystem, format_both, format_length


def to_decimal(length: Decimal | float) -> Decimal:
    """mm to six places."""
    return length if isinstance(length, Decimal) else Decimal(repr(round(length, 6)))


def length_text(length: Decimal | float, units: UnitSystem | str) -> str:
    """In the reader's units."""
    return format_length(to_decimal(length), UnitSystem(units))


def length_pair(length: Decimal | float, units: UnitSystem | str) -> tuple[str, str]:
    """In the reader's units, and in the other."""
    return format_both(to_decimal(length), UnitSystem(units))


def length_pair_text(length: Decimal | float, units: UnitSystem | str) -> str:
    """As ``length_pair``, in one text."""
    return " · ".join(length_pair(length, units))
