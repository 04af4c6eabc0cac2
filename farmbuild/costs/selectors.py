"""What was charged to houses and jobs: a query each, however many they are."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db.models import Q, QuerySet, Sum

from farmbuild.costs.models import EquipmentDay, PaidTime, Posted, Trip
from farmbuild.measure import round_money
from farmbuild.orgs.models import Organisation


@dataclass(frozen=True)
class TimeCost:
    """Of a day and step; ``step`` is "" for what no step foresaw. Of a house, or of a job as a whole."""

    house: int | None
    job: int | None
    day: date
    step: str
    minutes: int
    amount: Decimal

    @property
    def hours(self) -> Decimal:
        return Decimal(self.minutes) / 60


@dataclass(frozen=True)
class EquipmentCost:
    house: int | None
    job: int | None
    day: date
    name: str
    days: int
    amount: Decimal
    bender: bool = False


@dataclass(frozen=True)
class TripCost:
    """``times``: a trip that several houses share is a part of one in each."""

    house: int | None
    job: int | None
    day: date
    site: str
    times: Fraction
    amount: Decimal


def _rows(model: type[Posted], organisation: Organisation, houses: Collection[int] | None, job: int | None) -> QuerySet:
    rows = model.objects.of(organisation).order_by()
    if houses is None:
        return rows
    return rows.filter(Q(house__in=houses) | Q(job=job) if job is not None else Q(house__in=houses))


def time_of(*, organisation: Organisation, houses: Collection[int] | None, job: int | None = None) -> list[TimeCost]:
    """Time of these houses and of the ``job`` as a whole, by day; ``houses`` None: all there is."""
    rows = _rows(PaidTime, organisation, houses, job).values_list("house", "job", "day", "step")
    sums = rows.annotate(all_minutes=Sum("minutes"), all_amounts=Sum("amount"))
    return [
        TimeCost(*row, round_money(amount, organisation.currency))
        for *row, amount in sums.order_by("day", "step", "house", "job")
        if row[-1] or amount
    ]


def equipment_of(
    *, organisation: Organisation, houses: Collection[int] | None, job: int | None = None
) -> list[EquipmentCost]:
    """As ``time_of``."""
    rows = _rows(EquipmentDay, organisation, houses, job)
    rows = rows.values_list("house", "job", "day", "equipment__name", "equipment__bender__name")
    sums = rows.annotate(all_days=Sum("days"), all_amounts=Sum("amount")).order_by("day", "equipment", "house", "job")
    return [
        EquipmentCost(
            house, job_of, day, name or bender, days, round_money(amount, organisation.currency), bender=not name
        )
        for house, job_of, day, name, bender, days, amount in sums
        if days or amount
    ]


def trips_of(*, organisation: Organisation, houses: Collection[int] | None, job: int | None = None) -> list[TripCost]:
    """As ``time_of``; with ``houses`` None also those that are a general expense."""
    rows = _rows(Trip, organisation, houses, job).values_list("house", "job", "day", "site__name", "shared")
    sums = rows.annotate(all_times=Sum("times"), all_amounts=Sum("amount")).order_by(
        "day", "site__name", "house", "job"
    )
    return [
        TripCost(house, job_of, day, site, Fraction(times, shared), round_money(amount, organisation.currency))
        for house, job_of, day, site, shared, times, amount in sums
        if times or amount
    ]
