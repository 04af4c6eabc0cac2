"""The books of receipts, counted once more from their rows."""

from __future__ import annotations

from django.db.models import F, Sum

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt, ReceiptLine
from farmbuild.stock.models import Lot, Movement


def recount(organisation) -> None:
    """Lots are their movements, lines their receipts, receipts their lots, and states what has come."""
    lots = Lot.objects.of(organisation)
    moved = dict(lots.order_by().values_list("pk").annotate(Sum("movements__quantity")))
    assert {lot.pk: lot.on_hand for lot in lots} == moved
    for line in PurchaseOrderLine.objects.filter(order__organisation=organisation):
        sums = line.receipt_lines.aggregate(came=Sum("arrived", default=0), broken=Sum("damaged", default=0))
        assert (line.arrived, line.damaged) == (sums["came"], sums["broken"])
    whole = {
        row["lot"]: row["good"]
        for row in ReceiptLine.objects.filter(receipt__organisation=organisation, lot__isnull=False)
        .order_by()
        .values("lot")
        .annotate(good=Sum(F("arrived") - F("damaged")))
    }
    received = dict(
        Movement.objects.filter(lot__in=whole, kind=Movement.Kind.RECEIVE)
        .order_by()
        .values_list("lot")
        .annotate(Sum("quantity"))
    )
    assert whole == received
    for order in PurchaseOrder.objects.of(organisation).exclude(state__in=["draft", "cancelled"]):
        lines = list(order.lines.all())
        came, coming = any(line.arrived for line in lines), any(line.to_come for line in lines)
        assert order.state == ("sent" if not came else "part" if coming else "received")
        numbers = list(Receipt.objects.filter(order=order).values_list("number", flat=True).order_by("number"))
        assert numbers == list(range(1, len(numbers) + 1))
