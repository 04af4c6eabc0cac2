"""What pieces cost that came before their bill: the difference is booked on its day, and no movement changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from farmbuild.buying.landing.bridge import Booked, landed_costs
from farmbuild.buying.models import CostAdjustment, Invoice, PurchaseOrder, ReceiptLine
from farmbuild.measure import line_total
from farmbuild.orgs.models import User

_NONE = Decimal(0)


def adjust_to_what_is_known(
    *, order: PurchaseOrder, user: User | None, reason: str, invoice: Invoice | None = None
) -> list[CostAdjustment]:
    """Book on every receipt of the order that stands what it should cost by now less what it was booked at.

    ``order`` is held.
    """
    lines = list(order.lines.all())
    booked, _ = landed_costs(order=order, lines=lines, recovered=order.organisation.recovers_tax)
    before = booked_so_far(order=order, rows=[one.row for one in booked])
    rows = []
    for one in booked:
        amount, expense = _difference(one, before[one.row.pk])
        if amount or expense:
            rows.append(
                CostAdjustment(
                    receipt_line=one.row,
                    invoice=invoice,
                    amount=amount,
                    expense=expense,
                    reason=reason[:200],
                    by=user,
                )
            )
    return CostAdjustment.objects.bulk_create(rows)


def _difference(one: Booked, before: tuple[Decimal, Decimal]) -> tuple[Decimal, Decimal]:
    return one.cost.stock - before[0], one.cost.expense - before[1]


def booked_so_far(*, order: PurchaseOrder, rows: Sequence[ReceiptLine]) -> Mapping[int, tuple[Decimal, Decimal]]:
    """By the key of each of these lines of receipts what it was booked at, in stock and as an expense; one query."""
    found = {
        row.pk: (
            # From before landed cost was kept: what its lot was worth then.
            line_total(row.good, row.unit_price, order.currency) if row.amount is None else row.amount,
            row.expense or _NONE,
        )
        for row in rows
    }
    made = CostAdjustment.objects.filter(receipt_line__receipt__order=order)
    for key, amount, expense in made.order_by().values_list("receipt_line", "amount", "expense"):
        if key in found:
            found[key] = (found[key][0] + amount, found[key][1] + expense)
    return found
