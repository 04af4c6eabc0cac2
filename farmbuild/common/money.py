"""Money in a column whose heading names the currency."""

import re
from decimal import Decimal

from farmbuild.measure import amounts_shown, format_money, round_money


def format_amount(amount: Decimal, currency: str) -> str:
    """1,234.50 without the currency; unit prices keep up to four places."""
    written = format_money(abs(amount), currency)
    if not amounts_shown():
        return written
    figures = re.sub(r"^\D+", "", written)
    return f"-{figures}" if amount < 0 else figures


def format_coins(amount: Decimal, currency: str) -> str:
    """The same, rounded to coins first."""
    return format_amount(round_money(amount, currency), currency)
