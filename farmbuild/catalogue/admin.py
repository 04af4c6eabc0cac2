"""Catalogue rows for whoever runs the server."""

from typing import Any

from django.contrib import admin
from django.forms import ModelForm
from django.http import HttpRequest

from farmbuild.catalogue.models import Material, Offer, PriceBreak, Supplier
from farmbuild.catalogue.services import record


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

    def save_related(self, request: HttpRequest, form: ModelForm, formsets: Any, change: bool) -> None:
        """Changed here it has a history too."""
        super().save_related(request, form, formsets, change)
        offer = form.instance
        if breaks := list(offer.breaks.values_list("from_quantity", "unit_price")):
            record(offer, breaks, organisation=offer.organisation, user=request.user)
