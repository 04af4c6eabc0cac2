"""What every house and job cost, and the general expense: a row each, which add up to all that was charged."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.costs.materials import materials_of
from farmbuild.costs.models import PaidTime
from farmbuild.costs.selectors import equipment_of, time_of, trips_of
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

GENERAL = gettext_lazy("General expense")
_KINDS = ("materials", "time", "equipment", "trips")
#: A house, or a job as a whole, or neither.
_Key = tuple[int | None, int | None]


@dataclass
class HouseCost:
    """Of a house, of a ``job`` as a whole, or of neither. ``url``: its statement."""

    name: str
    url: str | None = None
    materials: Decimal = field(default_factory=Decimal)
    time: Decimal = field(default_factory=Decimal)
    equipment: Decimal = field(default_factory=Decimal)
    trips: Decimal = field(default_factory=Decimal)

    @property
    def rest(self) -> Decimal:
        return self.equipment + self.trips

    @property
    def total(self) -> Decimal:
        return self.materials + self.time + self.equipment + self.trips


def costs_of(*, organisation: Organisation) -> list[HouseCost]:
    """The dearest first, the general expense last; houses that cost nothing are left out. In few queries."""
    sums: dict[_Key, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))

    def add(kind: str, rows: Iterable[Any]) -> None:
        for row in rows:
            sums[row.house, getattr(row, "job", None)][kind] += row.amount

    add("materials", materials_of(organisation=organisation, houses=None))
    add("time", time_of(organisation=organisation, houses=None))
    add("equipment", equipment_of(organisation=organisation, houses=None))
    add("trips", trips_of(organisation=organisation, houses=None))
    general = HouseCost(str(GENERAL), **sums.pop((None, None), {}))
    names = _names(organisation, sums)
    rows = [HouseCost(*names[key], **found) for key, found in sums.items() if any(found.values())]
    rows.sort(key=lambda row: (-row.total, row.name))
    return [*rows, general] if any(vars(general)[kind] for kind in _KINDS) else rows


def _names(organisation: Organisation, keys: Iterable[_Key]) -> dict[_Key, tuple[str, str | None]]:
    """Name and address of the statement, by house or job."""
    keys = [*keys]
    houses = House.objects.of(organisation).filter(pk__in=[house for house, _ in keys if house])
    found: dict[_Key, tuple[str, str | None]] = {}
    for pk, name, slug in houses.values_list("pk", "name", "slug"):
        found[pk, None] = (name, reverse("costs:house", args=[slug]))
    if jobs := [job for _, job in keys if job]:
        model = PaidTime._meta.get_field("job").related_model
        for job in model.objects.of(organisation).filter(pk__in=jobs):
            found[None, job.pk] = (gettext("%(job)s, as a whole") % {"job": job}, None)
    return found
