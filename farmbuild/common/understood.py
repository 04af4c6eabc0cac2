"""How a typed number is read, in words, by the very readers that the forms use."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from farmbuild.common.fields import understood_length
from farmbuild.measure import (
    Unit,
    UnitSystem,
    format_count,
    format_decimal,
    format_money,
    parse_length,
    parse_lengths,
    parse_money,
    read_decimal,
    read_whole,
    typed_as,
    use_amounts,
)

KINDS = ("length", "lengths", "money", "count", "decimal")
#: Below this a count is as plain as it was typed.
_PLAIN_BELOW = 1000


class Understood(NamedTuple):
    """``words`` are "" where the text says by itself what is stored; ``value`` is that."""

    words: str
    value: Decimal | None


def understood_as(kind: str, text: str, *, unit: Unit, system: UnitSystem, currency: str, places: int) -> Understood:
    """Raises ValueError with a sentence where the text cannot be read, or could be read two ways."""
    match kind:
        case "length":
            return Understood(understood_length(text, unit, system), parse_length(text, unit))
        case "lengths":
            lengths = parse_lengths(text, unit)
            count = len(lengths)
            each = "; ".join(understood_length(f"{typed_as(length)} mm", unit, system) for length in lengths)
            return Understood(f"{count} length{'' if count == 1 else 's'}: {each}", None)
        case "money":
            amount = parse_money(text, currency, most_places=places)
            # What somebody typed is no secret to them.
            with use_amounts(True):
                return Understood(format_money(amount, currency), amount)
        case "count":
            number = read_whole(text)
            plain = text.strip() == str(number) and abs(number) < _PLAIN_BELOW
            return Understood("" if plain else format_count(number), Decimal(number))
        case _:
            value = read_decimal(text)
            plain = text.strip() == typed_as(value) and abs(value) < _PLAIN_BELOW
            return Understood("" if plain else format_decimal(value), value)
