"""The statement of one house: lines by kind, each kind summed, and the whole."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.costs.materials import MaterialCost, materials_of
from farmbuild.costs.selectors import equipment_of, time_of, trips_of
from farmbuild.crew.models import Kind
from farmbuild.measure import UnitSystem, format_decimal, format_length, format_minutes, format_money
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

_PART = Decimal("0.01")


@dataclass(frozen=True)
class Line:
    what: str
    quantity: str
    amount: Decimal


@dataclass(frozen=True)
class Part:
    """``kind``: a name that no language changes."""

    kind: str
    name: str
    lines: list[Line]

    @property
    def amount(self) -> Decimal:
        return sum((line.amount for line in self.lines), Decimal(0))

    def amount_text(self, currency: str) -> str:
        return format_money(self.amount, currency)


@dataclass(frozen=True)
class Statement:
    """``parts``: those that have lines. ``estimated``: some materials are from before their costs were kept."""

    parts: list[Part]
    estimated: bool = False

    @property
    def total(self) -> Decimal:
        return sum((part.amount for part in self.parts), Decimal(0))


def _summed(rows: Iterable[Any], key: Callable[[Any], Any], quantity: str) -> Iterator[tuple[Any, Any, Decimal]]:
    """(key, quantity, amount) in the order in which keys come, without what came to nothing."""
    quantities: dict[Any, Any] = defaultdict(int)
    amounts: dict[Any, Decimal] = defaultdict(Decimal)
    for row in rows:
        quantities[key(row)] += getattr(row, quantity)
        amounts[key(row)] += row.amount
    yield from ((one, quantities[one], amounts[one]) for one in quantities if quantities[one] or amounts[one])


def statement_of(*, house: House) -> Statement:
    """In a query a kind."""
    organisation, houses = house.organisation, [house.pk]
    materials = materials_of(organisation=organisation, houses=houses)
    parts = [
        Part("materials", gettext("Materials"), _materials(organisation, materials)),
        Part("time", gettext("Time"), _time(organisation, houses)),
        Part("equipment", gettext("Equipment"), _equipment(organisation, houses)),
        Part("trips", gettext("Trips"), _trips(organisation, houses)),
    ]
    return Statement([part for part in parts if part.lines], any(row.estimated for row in materials))


def _materials(organisation: Organisation, rows: list[MaterialCost]) -> list[Line]:
    units = UnitSystem(organisation.unit_system)
    found = _summed(rows, lambda row: (row.name, row.length), "quantity")
    return [
        Line(
            name if length is None else f"{name}, {format_length(length, units)}",
            _plain(quantity) if quantity else "",
            amount,
        )
        for (name, length), quantity, amount in found
    ]


def _time(organisation: Organisation, houses: list[int]) -> list[Line]:
    order = [*Kind.values, ""]
    rows = sorted(time_of(organisation=organisation, houses=houses), key=lambda row: order.index(row.step))
    return [
        Line(str(Kind(step).label) if step else gettext("Other work"), format_minutes(minutes), amount)
        for step, minutes, amount in _summed(rows, lambda row: row.step, "minutes")
    ]


def _equipment(organisation: Organisation, houses: list[int]) -> list[Line]:
    rows = sorted(equipment_of(organisation=organisation, houses=houses), key=lambda row: row.name)
    found = _summed(rows, lambda row: row.name, "days")
    return [Line(name, said_count(days, "day"), amount) for name, days, amount in found]


def _trips(organisation: Organisation, houses: list[int]) -> list[Line]:
    rows = sorted(trips_of(organisation=organisation, houses=houses), key=lambda row: row.site)
    found = _summed(rows, lambda row: row.site, "times")
    return [Line(gettext("To %(site)s") % {"site": site}, _trips_words(times), amount) for site, times, amount in found]


def _trips_words(times: Fraction) -> str:
    """1 trip, 2.5 trips: shared ones are parts."""
    if times.denominator == 1:
        return said_count(times.numerator, "trip")
    return gettext("%(times)s trips") % {"times": _plain(Decimal(times.numerator) / times.denominator)}


def _plain(quantity: Decimal) -> str:
    """To two places, as many as it needs: houses share sticks of a batch, and trips."""
    return format_decimal(quantity.quantize(_PART).normalize() + 0)
