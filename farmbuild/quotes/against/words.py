"""Sentences about what a job cost."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from farmbuild.measure import format_decimal, format_money
from farmbuild.quotes.against.bridge import Cause
from farmbuild.quotes.against.selectors import JobCosts

CAUSES = {
    Cause.CHANGE_ORDER: "Change orders",
    Cause.MATERIAL_PRICE: "Prices of materials",
    Cause.MATERIAL_QUANTITY: "Quantities of materials",
    Cause.HOURS: "Hours of work",
    Cause.RATE: "Pay an hour",
    Cause.OVERHEAD: "Overhead",
    Cause.EQUIPMENT: "Equipment and trips",
}


def answer(costs: JobCosts) -> str:
    """Where it stands, in one sentence."""
    foreseen = costs.quoted + costs.changed
    over = costs.at_completion - foreseen
    money = format_money(abs(over), costs.currency)
    if not over:
        return "It comes to what was quoted, with its changes."
    return f"It comes to {money} {'more' if over > 0 else 'less'} than was quoted, with its changes."


def percent(part: Fraction) -> str:
    """A part of one as percent to a hundredth."""
    exact = part * 100
    shown = (Decimal(exact.numerator) / exact.denominator).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{format_decimal(shown)} %"
