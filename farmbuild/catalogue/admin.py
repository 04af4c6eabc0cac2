"""Catalogue rows for whoever runs the server."""

from django.contrib import admin

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier


@admin.register(Material, Supplier)
class CodedAdmin(admin.ModelAdmin):
    list_display = ("name", "code", "organisation")
    list_filter = ("organisation",)
    search_fields = ("name", "code")


class PriceBreakInline(admin.TabularInline):
    model = PriceBreak
    extra = 0


@admin.register(Offer)
class OfferAdmin(admin.ModelAdmin):
    list_display = ("material", "supplier", "length", "pack", "organisation")
    list_filter = ("organisation", "supplier")
    list_select_related = ("material", "supplier", "organisation")
    inlines = (PriceBreakInline,)
