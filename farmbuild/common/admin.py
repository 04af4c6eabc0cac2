"""Pages of administration, for whoever keeps the machine: they show, and rows change through services alone."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpRequest


def is_keeper(request: HttpRequest) -> bool:
    """Rows of every organisation stand here, so that being staff of one is not enough.

    Raises PermissionDenied for whoever is signed in and is not; who is not signed in is led to do so.
    """
    if request.user.is_authenticated and not request.user.is_superuser:
        raise PermissionDenied("The administration is for whoever keeps this server.")
    return request.user.is_active and request.user.is_superuser


# One function instead of a site of our own, under which every model would have to be registered again.
admin.site.has_permission = is_keeper


class ReadOnlyAdmin(admin.ModelAdmin):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False


class OwnedAdmin(ReadOnlyAdmin):
    """``columns`` stand before the organisation; ``joins`` are loaded with the list."""

    columns: tuple[str, ...] = ("__str__",)
    joins: tuple[str, ...] = ()
    list_filter: tuple[str, ...] = ("organisation",)

    def get_list_display(self, request: HttpRequest) -> tuple[str, ...]:
        return (*self.columns, "organisation")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).select_related("organisation", *self.joins)
