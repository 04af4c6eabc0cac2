"""A contract as one bar: what is billed of it, bill by bill, and what is left."""

from __future__ import annotations

from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.strips import Part, strip
from farmbuild.measure import format_money
from farmbuild.quotes.bills.selectors import Billing, counts


def contract_bar(billing: Billing) -> SafeString | str:
    """Amounts before tax, to scale. Empty for a contract of nothing."""
    whole = max(billing.contract.before_tax, billing.billed)
    if whole <= 0:
        return ""
    parts, at, said = [], Decimal(0), []
    for bill in billing.bills:
        if counts(bill) and bill.billed > 0:
            parts.append(Part(at, bill.billed, bill.reference))
            at += bill.billed
            said.append(f"{bill.reference} {format_money(bill.billed, billing.currency)}")
    if whole > at:
        parts.append(Part(at, whole - at, gettext("not billed yet"), "end"))
        said.append(gettext("not billed yet %(value)s") % {"value": format_money(whole - at, billing.currency)})
    return strip("contract", parts, [], whole, gettext("What is billed of the contract"), f"{', '.join(said)}.")
