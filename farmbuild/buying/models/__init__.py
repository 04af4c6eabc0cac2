"""Orders, what came of them, what suppliers answered, and what they billed."""

from farmbuild.buying.models.changes import OrderChange
from farmbuild.buying.models.invoices import AdjustmentShare, CostAdjustment, Invoice, InvoiceCheck, InvoiceLine
from farmbuild.buying.models.notes import LessWanted
from farmbuild.buying.models.orders import PurchaseOrder, PurchaseOrderLine, SentWorkbook
from farmbuild.buying.models.receipts import Receipt, ReceiptLine
from farmbuild.buying.models.replies import Reply

__all__ = [
    "AdjustmentShare",
    "CostAdjustment",
    "Invoice",
    "InvoiceCheck",
    "InvoiceLine",
    "LessWanted",
    "OrderChange",
    "PurchaseOrder",
    "PurchaseOrderLine",
    "Receipt",
    "ReceiptLine",
    "Reply",
    "SentWorkbook",
]
