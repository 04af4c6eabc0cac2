"""Stock rows for whoever keeps the site, to look at: counts change on the pages, through movements."""

from django.contrib import admin

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.stock.models import ImportDraft, Lot, Movement, Place, Reservation


@admin.register(Lot)
class LotAdmin(ReadOnlyAdmin):
    list_display = ("reference", "material", "length", "on_hand", "place", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("material", "place", "organisation")
    search_fields = ("reference",)


@admin.register(Movement)
class MovementAdmin(ReadOnlyAdmin):
    list_display = ("lot", "kind", "quantity", "at", "by", "reason")
    list_select_related = ("lot", "by")


@admin.register(Reservation)
class ReservationAdmin(ReadOnlyAdmin):
    list_display = ("house", "purpose", "quantity", "lot", "order_line", "need_by", "plan_id")
    list_filter = ("organisation",)
    list_select_related = ("house", "lot", "order_line__order")


@admin.register(ImportDraft)
class ImportDraftAdmin(ReadOnlyAdmin):
    list_display = ("filename", "organisation", "user", "made_at", "rows", "bad_rows")


@admin.register(Place)
class PlaceAdmin(admin.ModelAdmin):
    list_display = ("name", "site", "organisation")
    list_filter = ("organisation",)
