"""Stock rows for whoever keeps the site, to look at: counts change on the pages, through movements."""

from django.contrib import admin
from django.http import HttpRequest

from farmbuild.stock.models import ImportDraft, Lot, Movement, Place


class LookOnly(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False


@admin.register(Lot)
class LotAdmin(LookOnly):
    list_display = ("reference", "material", "length", "on_hand", "place", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("material", "place", "organisation")
    search_fields = ("reference",)


@admin.register(Movement)
class MovementAdmin(LookOnly):
    list_display = ("lot", "kind", "quantity", "at", "by", "reason")
    list_select_related = ("lot", "by")


@admin.register(ImportDraft)
class ImportDraftAdmin(LookOnly):
    list_display = ("filename", "organisation", "user", "made_at", "rows", "bad_rows")


@admin.register(Place)
class PlaceAdmin(admin.ModelAdmin):
    list_display = ("name", "site", "organisation")
    list_filter = ("organisation",)
