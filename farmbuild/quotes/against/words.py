"""Sentences about what a job cost."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from django.utils.translation import gettext, gettext_lazy

from farmbuild.measure import format_decimal, format_money
from farmbuild.quotes.against.bridge import Cause
from farmbuild.quotes.against.selectors import JobCosts

CAUSES = {
    Cause.CHANGE_ORDER: gettext_lazy("Change orders"),
    Cause.MATERIAL_PRICE: gettext_lazy("Prices of materials"),
    Cause.MATERIAL_QUANTITY: gettext_lazy("Quantities of materials"),
    Cause.HOURS: gettext_lazy("Hours of work"),
    Cause.RATE: gettext_lazy("Pay an hour"),
    Cause.OVERHEAD: gettext_lazy("Overhead"),
    Cause.EQUIPMENT: gettext_lazy("Equipment and trips"),
}


def answer(costs: JobCosts) -> str:
    """Where it stands, in one sentence."""
    foreseen = costs.quoted + costs.changed
    over = costs.at_completion - foreseen
    money = format_money(abs(over), costs.currency)
    if not over:
        return gettext("It comes to what was quoted, with its changes.")
    words = (
        gettext("It comes to %(money)s more than was quoted, with its changes.")
        if over > 0
        else gettext("It comes to %(money)s less than was quoted, with its changes.")
    )
    return words % {"money": money}


def percent(part: Fraction) -> str:
    """A part of one as percent to a hundredth."""
    exact = part * 100
    shown = (Decimal(exact.numerator) / exact.denominator).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{format_decimal(shown)} %"
