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
from farmbuild.measure.money import (
    MoneyError,
    format_money,
    from_minor,
    parse_money,
    places,
    round_money,
    to_minor,
)

__all__ = [
    "Grid",
    "LengthError",
    "MoneyError",
    "Unit",
    "UnitSystem",
    "format_both",
    "format_length",
    "format_money",
    "from_minor",
    "parse_length",
    "parse_money",
    "places",
    "round_money",
    "to_grid",
    "to_minor",
]
