"""What an organisation's books come to, by name: what a person would count after a move."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from decimal import Decimal

from django.apps import apps
from django.db.models import Count, Sum

from farmbuild.moving.ownership import rows_of

#: Name, table and column that is added up.
_SUMS = (
    ("pieces on hand", "stock.Lot", "on_hand"),
    ("pieces held", "stock.Lot", "reserved"),
    ("worth of the stock", "stock.Lot", "value"),
    ("cost of movements", "stock.Movement", "amount"),
    ("orders", "buying.PurchaseOrder", "total"),
    ("invoices of suppliers", "buying.Invoice", "total"),
    ("minutes of work", "crew.Actual", "minutes"),
    ("cost of time", "costs.PaidTime", "amount"),
    ("cost of equipment", "costs.EquipmentDay", "amount"),
    ("cost of trips", "costs.Trip", "amount"),
    ("bills to customers", "quotes.Bill", "due"),
    ("accounts of members", "coop.MemberEntry", "amount"),
)


def figures_of(organisation: int) -> dict[str, str]:
    """Each as text: sums to the last place, and a digest over those of all plans."""
    found = {}
    for name, label, column in _SUMS:
        rows = rows_of(apps.get_model(label), organisation).order_by()
        summed = rows.aggregate(sum=Sum(column), rows=Count("pk"))
        # Databases add up with more places, or fewer, than a column has.
        found[name] = f"{Decimal(summed['sum'] or 0):.3f} in {summed['rows']}"
    digests = rows_of(apps.get_model("plans.Plan"), organisation).values_list(
        "number", "inputs_digest", "result_digest"
    )
    told = "\n".join(" ".join(map(str, row)) for row in digests)
    found["digests of plans"] = hashlib.sha256(told.encode()).hexdigest()
    return found


def differences(before: Mapping[str, str], now: Mapping[str, str]) -> Iterator[str]:
    for name in sorted({*before, *now}):
        if before.get(name) != now.get(name):
            yield f"{name} came to {before.get(name, 'nothing')} and come to {now.get(name, 'nothing')} here"
