"""Orders may be looked at, not changed: they are what their plan says."""

from django.contrib import admin

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.plans.admin import ReadOnlyAdmin


class LineInline(admin.TabularInline):
    model = PurchaseOrderLine
    extra = 0


@admin.register(PurchaseOrder)
class PurchaseOrderAdmin(ReadOnlyAdmin):
    list_display = ("number", "organisation", "supplier", "state", "order_by", "total", "currency")
    list_filter = ("organisation", "state")
    list_select_related = ("organisation", "supplier")
    inlines = [LineInline]
