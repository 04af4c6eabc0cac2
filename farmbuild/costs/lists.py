"""Reads of rows that were charged, for their lists and pages."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.costs.models import EquipmentDay, EquipmentRate, PaidTime, PayRate, Trip, TripRate
from farmbuild.orgs.models import Organisation


def paid_time_of(*, organisation: Organisation) -> QuerySet[PaidTime]:
    """Latest day first, with what was taken back and what took it back."""
    rows = PaidTime.objects.of(organisation).select_related(
        "person", "house", "job", "by", "approval__actual", "approval__other", "reverses", "reversed_by"
    )
    return rows.order_by("-day", "-pk")


def equipment_days_of(*, organisation: Organisation) -> QuerySet[EquipmentDay]:
    """As ``paid_time_of``."""
    rows = EquipmentDay.objects.of(organisation).select_related(
        "equipment__bender", "house", "job", "booking", "by", "reverses", "reversed_by"
    )
    return rows.order_by("-day", "-pk")


def trip_rows_of(*, organisation: Organisation) -> QuerySet[Trip]:
    """As ``paid_time_of``."""
    rows = Trip.objects.of(organisation).select_related("site", "house", "job", "crew", "by", "reverses", "reversed_by")
    return rows.order_by("-day", "-pk")


def pay_rates_of(*, organisation: Organisation) -> QuerySet[PayRate]:
    """By person, then by crew, then those of everybody; the latest first."""
    return (
        PayRate.objects.of(organisation)
        .select_related("person", "crew")
        .order_by("person__name", "crew__name", "-since")
    )


def equipment_rates_of(*, organisation: Organisation) -> QuerySet[EquipmentRate]:
    return EquipmentRate.objects.of(organisation).select_related("equipment__bender").order_by("equipment", "-since")


def trip_rates_of(*, organisation: Organisation) -> QuerySet[TripRate]:
    return TripRate.objects.of(organisation).select_related("site").order_by("site__name", "-since")
