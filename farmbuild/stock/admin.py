"""Stock rows for whoever runs the server, to look at: counts change on the pages, through movements."""

from django.contrib import admin

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.stock.models import (
    CountFind,
    CountLine,
    CountPlace,
    ImportDraft,
    Lot,
    Movement,
    Place,
    Reservation,
    StockCount,
)


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
class PlaceAdmin(ReadOnlyAdmin):
    list_display = ("name", "site", "organisation")
    list_filter = ("organisation",)


class CountPlaceInline(admin.TabularInline):
    model = CountPlace
    extra = 0


@admin.register(StockCount)
class StockCountAdmin(ReadOnlyAdmin):
    list_display = ("number", "organisation", "state", "started_at", "started_by", "ended_at", "ended_by")
    list_filter = ("organisation", "state")
    list_select_related = ("organisation", "started_by", "ended_by")
    inlines = (CountPlaceInline,)


@admin.register(CountLine)
class CountLineAdmin(ReadOnlyAdmin):
    list_display = ("count", "lot", "place", "counted", "expected", "counted_at", "counted_by", "times")
    list_filter = ("count__organisation",)
    list_select_related = ("count", "lot", "place", "counted_by")


@admin.register(CountFind)
class CountFindAdmin(ReadOnlyAdmin):
    list_display = ("count", "material", "quantity", "place", "note", "by", "taken_back", "lot")
    list_filter = ("count__organisation",)
    list_select_related = ("count", "material", "place", "by", "lot")
