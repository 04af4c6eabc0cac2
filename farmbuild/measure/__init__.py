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
    line_tax,
    line_total,
    parse_money,
    places,
    round_money,
    to_minor,
)
from farmbuild.measure.quantities import QuantityError, parse_quantity

__all__ = [
    "Grid",
    "LengthError",
    "MoneyError",
    "QuantityError",
    "Unit",
    "UnitSystem",
    "format_both",
    "format_length",
    "format_money",
    "from_minor",
    "line_tax",
    "line_total",
    "parse_length",
    "parse_money",
    "parse_quantity",
    "places",
    "round_money",
    "to_grid",
    "to_minor",
]
