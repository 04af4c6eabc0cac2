"""What always holds: all that was charged to somebody, and what lies in the yard, is all that came in.

Houses + jobs as a whole + general expense + stock + what is lent + what members were handed out = what came into stock,
as repriced since + what came damaged and nobody credits + what later bills changed of pieces that had gone out + time +
equipment + trips, to the coin. The left side is what the pages of costs say; the right side is summed of the rows
themselves.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from farmbuild.buying.invoices.selectors import adjusted_of, adjusted_of_members, expense_of
from farmbuild.costs.models import EquipmentDay, PaidTime, Posted, Trip
from farmbuild.costs.statement.houses import costs_of
from farmbuild.costs.time.posting import amount_of
from farmbuild.measure import format_money, line_total, round_money, share_out
from farmbuild.orgs.models import Organisation
from farmbuild.stock.cost_selectors import stock_books


@dataclass(frozen=True)
class Sides:
    """Amounts by what they are of."""

    charged: dict[str, Decimal]
    came: dict[str, Decimal]

    @property
    def difference(self) -> Decimal:
        return sum(self.charged.values()) - sum(self.came.values())


def sides_of(*, organisation: Organisation) -> Sides:
    rows, books = costs_of(organisation=organisation), stock_books(organisation=organisation)
    of_members = adjusted_of_members(organisation=organisation)
    charged = {
        "houses, jobs and general expense": sum((row.total for row in rows), Decimal(0)),
        "stock": books.on_hand,
        "lent": books.lent,
        "handed out to members": books.members + of_members,
    }
    came = {
        "into stock": books.came_in,
        "repriced": books.repriced,
        "damaged": expense_of(organisation=organisation),
        "later bills": sum(adjusted_of(organisation=organisation).values(), of_members),
    }
    for name, model in (("time", PaidTime), ("equipment", EquipmentDay), ("trips", Trip)):
        came[name] = _sum(model, organisation)
    return Sides(charged, came)


def _sum(model: type[Posted], organisation: Organisation) -> Decimal:
    found = model.objects.of(organisation).aggregate(sum=Sum("amount"))["sum"]
    return round_money(found or Decimal(0), organisation.currency)


def faults_of(*, organisation: Organisation) -> Iterator[str]:
    """Sentences: sides that differ, and rows whose amount is not that of their own price."""
    sides = sides_of(organisation=organisation)
    if sides.difference:
        money = [
            ", ".join(f"{name} {format_money(amount, organisation.currency)}" for name, amount in side.items())
            for side in (sides.charged, sides.came)
        ]
        yield f"Charged ({money[0]}) is not what came ({money[1]})."
    currency = organisation.currency
    for row in PaidTime.objects.of(organisation).iterator():
        if row.amount != amount_of(row.minutes, row.rate, currency):
            yield f"Paid time {row.pk}: {row.amount} is not {row.minutes} min at {row.rate}."
    for row in EquipmentDay.objects.of(organisation).iterator():
        if row.amount != line_total(row.days, row.rate, currency):
            yield f"Equipment day {row.pk}: {row.amount} is not {row.days} at {row.rate}."
    for row in Trip.objects.of(organisation).iterator():
        if row.amount not in share_out(line_total(row.times, row.rate, currency), [Decimal(1)] * row.shared, currency):
            yield f"Trip {row.pk}: {row.amount} is no part of {row.times} at {row.rate}."
