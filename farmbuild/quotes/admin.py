"""Customers, jobs and quotes for whoever runs the server, to look at: they change on the pages."""

from __future__ import annotations

from django.contrib import admin

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.quotes.models import Bill, ChangeOrder, Customer, Job, Quote, QuoteRates, QuoteVersion


@admin.register(Customer)
class CustomerAdmin(ReadOnlyAdmin):
    list_display = ("name", "contact", "archived_at", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("organisation",)
    search_fields = ("name",)


@admin.register(Job)
class JobAdmin(ReadOnlyAdmin):
    list_display = ("reference", "name", "customer", "state", "organisation")
    list_filter = ("organisation", "state")
    list_select_related = ("organisation", "customer")


@admin.register(QuoteRates)
class QuoteRatesAdmin(ReadOnlyAdmin):
    list_display = ("organisation", "labour", "overhead", "margin")
    list_select_related = ("organisation",)


@admin.register(Quote)
class QuoteAdmin(ReadOnlyAdmin):
    list_display = ("reference", "job", "made_at", "organisation")
    list_filter = ("organisation",)
    list_select_related = ("organisation", "job")


@admin.register(QuoteVersion)
class QuoteVersionAdmin(ReadOnlyAdmin):
    list_display = ("__str__", "state", "valid_until", "sent_at", "organisation")
    list_select_related = ("organisation", "quote")
    fields = ("quote", "number", "state", "valid_until", "sent_at", "sent_by", "sha256")


@admin.register(ChangeOrder)
class ChangeOrderAdmin(ReadOnlyAdmin):
    list_display = ("__str__", "what", "state", "organisation")
    list_select_related = ("organisation", "job")
    fields = ("job", "number", "what", "state", "before_tax", "tax", "total", "sent_at", "accepted_at")


@admin.register(Bill)
class BillAdmin(ReadOnlyAdmin):
    list_display = ("reference", "what", "day", "due", "organisation")
    list_select_related = ("organisation", "job")
    fields = ("number", "job", "what", "day", "due_on", "billed", "kept", "tax", "due", "sha256")
