"""What the history keeps of these tables."""

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.history.keeping import keep

keep(
    PurchaseOrder,
    "order",
    leave_out=["number", "changed_at", "created_at", "cancelled_at", "sent_by", "cancelled_by"],
    money=["goods", "delivery", "tax", "total"],
    deeds={"state": {"draft": "opened again", "sent": "sent", "cancelled": "cancelled"}},
    leads_to=("buying:order", "number"),
    labels={"cancel_reason": "why"},
)
keep(
    PurchaseOrderLine,
    of="order",
    title="line",
    leave_out=["position", "offer", "arrived", "damaged", "reserved", "closed_at", "closed_by"],
    money=["unit_price", "line_total", "tax", "confirmed_price"],
    name=lambda row: row.description,
    labels={"closed_reason": "waited for no more, because"},
)
