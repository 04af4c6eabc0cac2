"""Money for reading."""

from decimal import ROUND_HALF_UP, Decimal

#: Digits after the point where they are not two (ISO 4217, from memory).
_MINOR_DIGITS = {"JPY": 0, "KRW": 0, "VND": 0, "CLP": 0, "ISK": 0, "UGX": 0, "XAF": 0, "XOF": 0, "KWD": 3, "BHD": 3}


def round_money(amount: Decimal, currency: str) -> Decimal:
    """Half up to the currency's smallest coin."""
    return Decimal(amount).quantize(Decimal(1).scaleb(-_MINOR_DIGITS.get(currency, 2)), ROUND_HALF_UP)


def format_amount(amount: Decimal, currency: str) -> str:
    """1,234.50."""
    rounded = round_money(amount, currency)
    return f"{rounded or abs(rounded):,}"


def format_money(amount: Decimal, currency: str) -> str:
    """USD 1,234.50."""
    return f"{currency} {format_amount(amount, currency)}"
