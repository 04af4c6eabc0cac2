"""Money in a column whose heading names the currency."""

import re
from decimal import Decimal

from farmbuild.measure import format_money, round_money


def format_amount(amount: Decimal, currency: str) -> str:
    """1,234.50 without the currency; unit prices keep up to four places."""
    figures = re.sub(r"^\D+", "", format_money(abs(amount), currency))
    return f"-{figures}" if amount < 0 else figures


def format_coins(amount: Decimal, currency: str) -> str:
    """The same, rounded to coins first."""
    return format_amount(round_money(amount, currency), currency)
