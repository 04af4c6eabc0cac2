"""Catalogue rows for whoever runs the server, to look at: prices change on the pages, with their history."""

from django.contrib import admin

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.common.admin import ReadOnlyAdmin


@admin.register(Material, Supplier)
class CodedAdmin(ReadOnlyAdmin):
    list_display = ("name", "code", "organisation")
    list_filter = ("organisation",)
    search_fields = ("name", "code")


class PriceBreakInline(admin.TabularInline):
    model = PriceBreak
    extra = 0


@admin.register(Offer)
class OfferAdmin(ReadOnlyAdmin):
    list_display = ("material", "supplier", "length", "pack", "organisation")
    list_filter = ("organisation", "supplier")
    list_select_related = ("material", "supplier", "organisation")
    inlines = (PriceBreakInline,)
