"""Quantities as people type them: whole numbers of things."""

from __future__ import annotations

import re
import unicodedata

MAX_QUANTITY = 10_000_000
_EXAMPLE = "Type a whole number, for example 24."
_WHOLE = re.compile(r"\d{1,3}(?:,\d{3})+|\d+")
_DECIMAL = re.compile(r"\d*[.,]\d+")
#: Beyond this nobody reads it back; it also keeps the conversion short.
_LONGEST_TEXT = 40


class QuantityError(ValueError):
    """A quantity that cannot be read or is out of bounds; the message says what to type."""


def parse_quantity(text: str, *, least: int = 1, most: int = MAX_QUANTITY) -> int:
    """A whole number from ``least`` to ``most``: 24, 1,200 or full-width digits. Raises QuantityError."""
    typed = text.strip()
    if not typed:
        raise QuantityError(f"There is no quantity here. {_EXAMPLE}")
    if len(typed) > _LONGEST_TEXT:
        raise QuantityError(f"This is {len(typed)} characters long, too long for a quantity. {_EXAMPLE}")
    # Raised digits and the like stand for something else, so only digits in their own right count.
    plain = "".join(str(unicodedata.decimal(char, char)) for char in typed).replace("−", "-")
    below_zero, plain = plain.startswith("-"), plain.removeprefix("-").strip()
    if not _WHOLE.fullmatch(plain):
        if _DECIMAL.fullmatch(plain):
            raise QuantityError(f"“{typed}” is not a whole number. {_EXAMPLE}")
        raise QuantityError(f"“{typed}” cannot be read as a quantity. {_EXAMPLE}")
    quantity = int(plain.replace(",", ""))
    if below_zero or quantity < least:
        raise QuantityError(f"“{typed}” is too few. Type a whole number of at least {least:,}.")
    if quantity > most:
        raise QuantityError(f"“{typed}” is more than can be handled. Type a whole number of at most {most:,}.")
    return quantity
