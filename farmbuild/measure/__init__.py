"""Lengths, money and quantities as people write them, kept exactly."""

from farmbuild.measure.lengths import (
    FILM_BELOW_MM,
    Grid,
    LengthError,
    Unit,
    UnitSystem,
    format_both,
    format_film,
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
from farmbuild.measure.words import count_noun, format_day, format_minutes, join_words, noun_for

__all__ = [
    "FILM_BELOW_MM",
    "Grid",
    "LengthError",
    "MoneyError",
    "QuantityError",
    "Unit",
    "UnitSystem",
    "count_noun",
    "format_both",
    "format_day",
    "format_film",
    "format_length",
    "format_minutes",
    "format_money",
    "from_minor",
    "join_words",
    "line_tax",
    "line_total",
    "noun_for",
    "parse_length",
    "parse_money",
    "parse_quantity",
    "places",
    "round_money",
    "to_grid",
    "to_minor",
]
