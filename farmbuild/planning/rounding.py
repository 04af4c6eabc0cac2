"""Money to whole coins, half up, at the line."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

COIN = Decimal("0.01")


def round_money(amount: Decimal) -> Decimal:
    return amount.quantize(COIN, ROUND_HALF_UP)
