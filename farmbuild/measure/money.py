"""Money: exact Decimals, rounded half up to the coins of the currency at each line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from farmbuild.measure.numbers import (
    NumberError,
    NumberStyle,
    format_count,
    format_decimal,
    format_places,
    read_decimal,
    typed_as,
)

#: Decimal places of currencies in everyday use that do not have two (ISO 4217 list of currency codes).
_NO_PLACES = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE_PLACES = "BHD IQD JOD KWD LYD OMR TND"
_PLACES = dict.fromkeys(_NO_PLACES.split(), 0) | dict.fromkeys(_THREE_PLACES.split(), 3)
_SIGNS = {"USD": "$", "EUR": "€", "GBP": "£", "JPY": "¥"}
MAX_AMOUNT = Decimal(10) ** 12
#: What stands in the place of an amount that the reader is not to see. Pages leave the place out; this is for one that
#: was forgotten.
NOT_SHOWN = "not shown"
_shown: ContextVar[bool] = ContextVar("amounts_shown", default=True)


def amounts_shown() -> bool:
    """Whether amounts are written out in what is under way."""
    return _shown.get()


def show_amounts(shown: bool) -> None:
    """From here on, until the ``use_amounts`` around it ends."""
    _shown.set(shown)


@contextmanager
def use_amounts(shown: bool) -> Iterator[None]:
    token = _shown.set(shown)
    try:
        yield
    finally:
        _shown.reset(token)


class MoneyError(ValueError):
    """An amount that cannot be read; the message says how to type it.

    ``readings``: both amounts that it could be, where it could be two.
    """

    def __init__(self, message: str, readings: tuple[str, ...] = ()) -> None:
        self.readings = readings
        super().__init__(message)


#: Far below any part of a coin that minutes and prices make, and far above what 28 digits leave out.
_HAIR = Decimal("1e-12")


def places(currency: str) -> int:
    """Decimal places of a currency's coins."""
    return _PLACES.get(currency, 2)


def round_money(amount: Decimal, currency: str) -> Decimal:
    """Half up to whole coins."""
    return amount.quantize(Decimal(1).scaleb(-places(currency)), ROUND_HALF_UP)


def line_total(quantity: int | Decimal, unit_price: Decimal, currency: str) -> Decimal:
    """Quantity times unit price, rounded to coins at the line."""
    return round_money(quantity * unit_price, currency)


def part_total(quantity: Decimal, unit_price: Decimal, currency: str) -> Decimal:
    """The same of a quantity that may have no end in decimals, such as 20 minutes in hours: half a coin is half a coin
    and not a hair less."""
    return round_money((quantity * unit_price).quantize(_HAIR, ROUND_HALF_UP), currency)


def line_tax(total: Decimal, percent: Decimal, currency: str) -> Decimal:
    """Tax on one line's rounded total, rounded to coins at the line."""
    return round_money(total * percent / 100, currency)


def tax_within(total: Decimal, percent: Decimal, currency: str) -> Decimal:
    """The tax in one line's rounded total that includes it, rounded to coins at the line."""
    return round_money(total * percent / (100 + percent), currency)


def to_minor(amount: Decimal, currency: str) -> int:
    """Whole coins in an amount; ValueError when it is not a whole number of them."""
    coins = amount.scaleb(places(currency))
    if coins != coins.to_integral_value():
        raise ValueError(f"{amount} is not a whole number of coins of {currency}")
    return int(coins)


def from_minor(coins: int, currency: str) -> Decimal:
    return Decimal(coins).scaleb(-places(currency))


def format_money(amount: Decimal, currency: str) -> str:
    """$1,234.50 where the sign is well known, else CHF 1,234.50. Unit prices keep up to four places."""
    if not _shown.get():
        return NOT_SHOWN
    shown = max(places(currency), -int(amount.normalize().as_tuple().exponent) if amount else 0)
    write = format_places if shown == places(currency) else format_decimal
    text = write(abs(amount), min(shown, 4))
    sign = _SIGNS.get(currency)
    return f"{'-' if amount < 0 else ''}{sign}{text}" if sign else f"{'-' if amount < 0 else ''}{currency} {text}"


def format_about(amount: Decimal, currency: str) -> str:
    """A rough amount, to whole dollars: $1,235, CHF 1,235."""
    if not _shown.get():
        return NOT_SHOWN
    sign = _SIGNS.get(currency)
    text = format_count(int(amount.quantize(Decimal(1), ROUND_HALF_UP)))
    return f"{sign}{text}" if sign else f"{currency} {text}"


def parse_money(text: str, currency: str, *, most_places: int = 4, style: NumberStyle | None = None) -> Decimal:
    """An amount of zero or more, its currency before or after it: 1234.50, $12 or 12 USD, as ``read_decimal`` reads.

    Raises MoneyError.
    """
    typed = text.strip()
    plain = _without_currency(typed, currency)
    example = f"Type it like {typed_as(Decimal('1234.50'), style)}."
    if not plain:
        raise MoneyError(f"“{typed}” is not an amount of money. {example}")
    try:
        amount = read_decimal(plain, style)
    except NumberError as error:
        if error.readings or error.meant:
            raise MoneyError(str(error), error.readings) from error
        raise MoneyError(f"“{typed}” is not an amount of money. {example}") from error
    if amount.is_signed():
        raise MoneyError(f"“{typed}” is below zero. {example}")
    if amount >= MAX_AMOUNT:
        raise MoneyError(f"“{typed}” is more than any order. {example}")
    if -int(amount.as_tuple().exponent) > most_places:
        fewer = typed_as(Decimal("12.375"), style)
        raise MoneyError(f"“{typed}” has more than {most_places} decimals. Type it like {fewer}.")
    return amount


def _without_currency(typed: str, currency: str) -> str:
    """The figures alone; the sign or the code may stand at either end, once."""
    for name in filter(None, (_SIGNS.get(currency), currency)):
        for plain in (typed.removeprefix(name), typed.removesuffix(name)):
            if plain != typed:
                return plain.strip()
    return typed


def share_out(amount: Decimal, by: Sequence[Decimal], currency: str) -> list[Decimal]:
    """An amount in whole coins in proportion to ``by``; the shares add up to it to the coin, as ``share_whole``."""
    return [from_minor(share, currency) for share in share_whole(to_minor(amount, currency), by)]


def share_whole(whole: int, by: Sequence[Decimal]) -> list[int]:
    """A whole number in proportion to ``by``, in whole numbers that add up to it.

    Each gets its part rounded down (towards zero), and the ones left over go to the largest remainders, ties to the
    first listed (largest remainder, the method of Hamilton). Where all of ``by`` is 0, shares are equal. Raises
    ValueError where nobody shares, or a part is below 0.
    """
    if not by or any(part < 0 for part in by):
        raise ValueError("an amount is shared by one part or more, none of them below 0")
    parts = [Fraction(part) for part in by] if any(by) else [Fraction(1)] * len(by)
    each = abs(whole) / sum(parts)
    exact = [each * part for part in parts]
    shares = [int(share) for share in exact]
    largest = sorted(range(len(by)), key=lambda i: (shares[i] - exact[i], i))
    for i in largest[: abs(whole) - sum(shares)]:
        shares[i] += 1
    return [share if whole >= 0 else -share for share in shares]
