"""Quantities as people type them: whole numbers of things."""

from __future__ import annotations

from farmbuild.measure.numbers import NumberError, NumberStyle, format_count, read_whole

MAX_QUANTITY = 10_000_000
_EXAMPLE = "Type a whole number, for example 24."


class QuantityError(ValueError):
    """A quantity that cannot be read or is out of bounds; the message says what to type.

    ``readings``: both numbers that it could be, where it could be two.
    """

    def __init__(self, message: str, readings: tuple[str, ...] = ()) -> None:
        self.readings = readings
        super().__init__(message)


def parse_quantity(text: str, *, least: int = 1, most: int = MAX_QUANTITY, style: NumberStyle | None = None) -> int:
    """A whole number from ``least`` to ``most`` as ``read_whole`` reads it: 24, 1,200, 1 200. Raises QuantityError."""
    typed = text.strip()
    if not typed:
        raise QuantityError(f"There is no quantity here. {_EXAMPLE}")
    try:
        quantity = read_whole(typed, style)
    except NumberError as error:
        raise QuantityError(f"{error} {_EXAMPLE}", error.readings) from error
    if quantity < least:
        raise QuantityError(f"“{typed}” is too few. Type a whole number of at least {format_count(least, style)}.")
    if quantity > most:
        raise QuantityError(
            f"“{typed}” is more than can be handled. Type a whole number of at most {format_count(most, style)}."
        )
    return quantity
