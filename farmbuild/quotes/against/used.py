"""What a job used: materials by the movements of the stock, time, equipment and trips by what was charged.

Three kinds of row, each of a day and a house, or of the job as a whole (``house`` None). Amounts are coins.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import DecimalField, Value
from django.utils import timezone

from farmbuild.buying.models.invoices import AdjustmentShare
from farmbuild.costs.selectors import equipment_of, time_of, trips_of
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.quotes.models import Job
from farmbuild.stock.cost_selectors import borne_by
from farmbuild.stock.models import CostShare

TRIP = gettext_noop("Trip")


@dataclass(frozen=True)
class MaterialUsed:
    """``material``: its key; pieces of a stick that several houses share are parts of one."""

    day: date
    house: int | None
    material: int
    code: str
    name: str
    length: Decimal | None
    quantity: Decimal
    amount: Decimal


@dataclass(frozen=True)
class TimeUsed:
    """``step`` is "" for what no step foresaw."""

    day: date
    house: int | None
    step: str
    hours: Decimal
    amount: Decimal


@dataclass(frozen=True)
class EquipmentUsed:
    """Days of a thing, or trips."""

    day: date
    house: int | None
    name: str
    times: Decimal
    amount: Decimal
    trip: bool = False
    bender: bool = False


@dataclass(frozen=True)
class UsedUp:
    materials: tuple[MaterialUsed, ...]
    time: tuple[TimeUsed, ...]
    equipment: tuple[EquipmentUsed, ...]

    @property
    def rows(self) -> tuple[MaterialUsed | TimeUsed | EquipmentUsed, ...]:
        return (*self.materials, *self.time, *self.equipment)


def used_of(*, organisation: Organisation, job: Job, houses: Collection[int]) -> UsedUp:
    """Five queries."""
    which = {"organisation": organisation, "houses": houses, "job": job.pk}
    equipment = [
        EquipmentUsed(row.day, row.house, row.name, Decimal(row.days), row.amount, bender=row.bender)
        for row in equipment_of(**which)
    ]
    trips = [
        EquipmentUsed(
            row.day, row.house, TRIP, Decimal(row.times.numerator) / row.times.denominator, row.amount, trip=True
        )
        for row in trips_of(**which)
    ]
    return UsedUp(
        tuple(materials_used(organisation=organisation, houses=houses, job=job.pk)),
        tuple(TimeUsed(row.day, row.house, row.step, row.hours, row.amount) for row in time_of(**which)),
        (*equipment, *trips),
    )


def materials_used(*, organisation: Organisation, houses: Collection[int], job: int) -> list[MaterialUsed]:
    """By the day of the movement, on the clock of the organisation; with what a later invoice charged, of no pieces."""
    zone = zone_of(organisation=organisation)
    rows = CostShare.objects.filter(borne_by(houses, job), movement__lot__organisation=organisation).order_by("pk")
    found = rows.values_list(
        *("movement__at", "house", "movement__lot__material", "movement__lot__material__code"),
        *("movement__lot__material__name", "movement__lot__length", "quantity", "amount"),
    )
    later = AdjustmentShare.objects.filter(
        borne_by(houses, job), adjustment__receipt_line__receipt__organisation=organisation
    ).order_by("pk")
    line = "adjustment__receipt_line__order_line"
    charged = later.values_list(
        *("adjustment__at", "house", f"{line}__material", f"{line}__material__code", f"{line}__material__name"),
        *(f"{line}__length", Value(Decimal(0), output_field=DecimalField()), "amount"),
    )
    return [MaterialUsed(timezone.localdate(at, zone), *row) for at, *row in (*found, *charged)]
