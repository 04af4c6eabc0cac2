"""Costs for whoever runs the server, to look at: they change on the pages."""

from __future__ import annotations

from django.contrib import admin

from farmbuild.common.admin import OwnedAdmin
from farmbuild.costs.models import Equipment, EquipmentDay, EquipmentRate, PaidTime, PayRate, Trip, TripRate


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
