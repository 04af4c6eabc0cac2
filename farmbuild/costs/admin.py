"""Costs for whoever runs the server, to look at: they change on the pages."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.costs.models import Equipment, EquipmentDay, EquipmentRate, PaidTime, PayRate, Trip, TripRate


class OwnedAdmin(ReadOnlyAdmin):
    """``columns`` stand before the organisation; ``joins`` are loaded with the list."""

    columns: tuple[str, ...] = ("__str__",)
    joins: tuple[str, ...] = ()
    list_filter: tuple[str, ...] = ("organisation",)

    def get_list_display(self, request: HttpRequest) -> tuple[str, ...]:
        return (*self.columns, "organisation")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).select_related("organisation", *self.joins)


@admin.register(PayRate)
class PayRateAdmin(OwnedAdmin):
    columns = ("__str__", "since", "an_hour")
    joins = ("person", "crew")


@admin.register(PaidTime)
class PaidTimeAdmin(OwnedAdmin):
    columns = ("day", "person", "house", "step", "what", "minutes", "rate", "amount", "reverses_id")
    joins = ("person", "house")


@admin.register(Equipment)
class EquipmentAdmin(OwnedAdmin):
    columns = ("__str__", "archived_at")
    joins = ("bender",)


@admin.register(EquipmentRate)
class EquipmentRateAdmin(OwnedAdmin):
    columns = ("__str__", "since", "a_day")
    joins = ("equipment__bender",)


@admin.register(EquipmentDay)
class EquipmentDayAdmin(OwnedAdmin):
    columns = ("day", "equipment", "house", "rate", "amount", "reverses_id")
    joins = ("equipment__bender", "house")


@admin.register(TripRate)
class TripRateAdmin(OwnedAdmin):
    columns = ("__str__", "since", "each")
    joins = ("site",)


@admin.register(Trip)
class TripAdmin(OwnedAdmin):
    columns = ("day", "site", "house", "times", "shared", "rate", "amount", "reverses_id")
    joins = ("site", "house")
