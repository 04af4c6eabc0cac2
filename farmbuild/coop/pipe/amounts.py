"""What pipe comes to in money, in whole coins: above zero the borrower owes it to the lender."""

from __future__ import annotations

from decimal import Decimal

from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.measure import line_total


def amount_given(loan: PipeLoan, currency: str) -> Decimal:
    return line_total(loan.quantity, loan.price, currency)


def amount_settled(row: PipeReturn, currency: str) -> Decimal:
    """For money: what was lent, at its price. In other pieces: the same less what came, at the price of that."""
    return line_total(row.quantity, row.price, currency) - line_total(row.came or 0, row.came_price, currency)
