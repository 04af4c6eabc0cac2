"""What pieces cost that came before their bill: the difference is booked on its day, and no movement changes.

What lies in stock is repriced; what went out is borne by the houses that have it, and by nobody where it was scrapped,
lent or lost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from farmbuild.buying.landing.bridge import Booked, landed_costs
from farmbuild.buying.models import AdjustmentShare, CostAdjustment, Invoice, PurchaseOrder, Receipt, ReceiptLine
from farmbuild.measure import line_total
from farmbuild.orgs.models import User
from farmbuild.stock.repricing import NOBODY, Bearer, reprice_by, spread_of

_NONE = Decimal(0)


def adjust_to_what_is_known(
    *, order: PurchaseOrder, user: User | None, reason: str, invoice: Invoice | None = None
) -> None:
    """Book on every receipt of the order that stands what it should cost by now less what it was booked at.

    ``order`` is held.
    """
    lines = list(order.lines.all())
    booked, _ = landed_costs(order=order, lines=lines, recovered=order.organisation.recovers_tax)
    before = booked_so_far(order=order, rows=[one.row for one in booked])
    found = [(one.row, *_difference(one, before[one.row.pk])) for one in booked]
    rows = CostAdjustment.objects.bulk_create(
        CostAdjustment(receipt_line=row, invoice=invoice, amount=amount, expense=expense, reason=reason[:200], by=user)
        for row, amount, expense in found
        if amount or expense
    )
    _bear(order, user, rows, reason)


def _difference(one: Booked, before: tuple[Decimal, Decimal]) -> tuple[Decimal, Decimal]:
    return one.cost.stock - before[0], one.cost.expense - before[1]


def _bear(order: PurchaseOrder, user: User | None, rows: Sequence[CostAdjustment], reason: str) -> None:
    """The pieces of each lot bear its change, wherever they are."""
    of_lot = {row.receipt_line.lot_id: row for row in rows if row.amount}
    spread = spread_of(amounts={lot: row.amount for lot, row in of_lot.items()}, currency=order.currency)
    here: dict[int, Decimal] = {}
    for where in spread.values():
        for lot, amount in where.on_hand.items():
            here[lot] = here.get(lot, _NONE) + amount
    left = reprice_by(organisation=order.organisation, user=user, amounts=here, reason=reason)
    shares = []
    for lot, where in spread.items():
        borne = dict(where.borne)
        for there in where.on_hand:
            # A lot is never worth less than nothing; the rest nobody bears by name.
            borne[NOBODY] = borne.get(NOBODY, _NONE) + left.pop(there, _NONE)
        shares += [
            AdjustmentShare(adjustment=of_lot[lot], house_id=house, job_id=job, amount=amount)
            for (house, job), amount in borne.items()
            if amount
        ]
        if where.members:
            shares.append(AdjustmentShare(adjustment=of_lot[lot], members=True, amount=where.members))
    AdjustmentShare.objects.bulk_create(shares)


def undo_adjustments(*, receipt: Receipt, user: User | None, reason: str) -> None:
    """What was booked on a receipt that is reversed is taken back from whoever bore it; its lots are empty again."""
    lines = receipt.lines.prefetch_related("adjustments__shares")
    taken: list[tuple[CostAdjustment, dict[tuple[Bearer, bool], Decimal]]] = []
    for line in lines:
        made = list(line.adjustments.all())
        amount = -sum((row.amount for row in made), _NONE)
        expense = -sum((row.expense for row in made), _NONE)
        borne: dict[tuple[Bearer, bool], Decimal] = {}
        for share in (share for row in made for share in row.shares.all()):
            bearer = (share.house_id, share.job_id), share.members
            borne[bearer] = borne.get(bearer, _NONE) - share.amount
        if amount or expense or any(borne.values()):
            row = CostAdjustment(receipt_line=line, amount=amount, expense=expense, reason=reason[:200], by=user)
            taken.append((row, borne))
    CostAdjustment.objects.bulk_create([row for row, _ in taken])
    AdjustmentShare.objects.bulk_create(
        AdjustmentShare(adjustment=row, house_id=house, job_id=job, members=members, amount=amount)
        for row, borne in taken
        for ((house, job), members), amount in borne.items()
        if amount
    )


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
