"""Orders, what came of them, and what suppliers answered."""

from farmbuild.buying.models.changes import OrderChange
from farmbuild.buying.models.notes import LessWanted
from farmbuild.buying.models.orders import PurchaseOrder, PurchaseOrderLine, SentWorkbook
from farmbuild.buying.models.receipts import Receipt, ReceiptLine
from farmbuild.buying.models.replies import Reply

__all__ = [
    "LessWanted",
    "OrderChange",
    "PurchaseOrder",
    "PurchaseOrderLine",
    "Receipt",
    "ReceiptLine",
    "Reply",
    "SentWorkbook",
]
