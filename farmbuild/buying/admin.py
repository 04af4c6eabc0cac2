"""Orders and receipts may be looked at, not changed: they are what was planned, sent and received."""

from django.contrib import admin

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, Receipt, ReceiptLine
from farmbuild.common.admin import ReadOnlyAdmin


class LineInline(admin.TabularInline):
    model = PurchaseOrderLine
    extra = 0


@admin.register(PurchaseOrder)
class PurchaseOrderAdmin(ReadOnlyAdmin):
    list_display = ("number", "organisation", "supplier", "state", "order_by", "total", "currency")
    list_filter = ("organisation", "state")
    list_select_related = ("organisation", "supplier")
    inlines = [LineInline]


class ReceiptLineInline(admin.TabularInline):
    model = ReceiptLine
    extra = 0


@admin.register(Receipt)
class ReceiptAdmin(ReadOnlyAdmin):
    list_display = ("order", "number", "organisation", "received_on", "paper", "by", "reverses")
    list_filter = ("organisation",)
    list_select_related = ("organisation", "order", "by", "reverses__order")
    inlines = [ReceiptLineInline]
