"""Lengths, money and quantities as people write them, kept exactly."""

from farmbuild.measure.lengths import (
    Grid,
    LengthError,
    Unit,
    UnitSystem,
    format_both,
    format_length,
    parse_length,
    to_grid,
)

__all__ = [
    "Grid",
    "LengthError",
    "Unit",
    "UnitSystem",
    "format_both",
    "format_length",
    "parse_length",
    "to_grid",
]
