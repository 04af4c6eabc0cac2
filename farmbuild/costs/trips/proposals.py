"""Trips that are not charged yet: a day of a crew at a site is one, shared by the houses at which it worked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.costs.models import Trip
from farmbuild.costs.rates import TripRates
from farmbuild.crew.models import Actual, Crew
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House, Site


@dataclass(frozen=True)
class ProposedTrip:
    """``houses``: those that share it, by name."""

    site: Site
    crew: Crew
    day: date
    houses: tuple[House, ...]
    rate: Decimal

    @property
    def token(self) -> str:
        return ":".join([str(self.site.pk), str(self.crew.pk), str(self.day), *(str(one.pk) for one in self.houses)])


def proposed_trips(*, organisation: Organisation) -> list[ProposedTrip]:
    """By day, from the first day on from which a trip has a price. In few queries."""
    rates = TripRates(organisation)
    if rates.begins is None:
        return []
    trips = Trip.objects.of(organisation).net().filter(day__gte=rates.begins, crew__isnull=False)
    charged = set(trips.values_list("site", "crew", "day"))
    runs = Actual.objects.of(organisation).runs().filter(crew__isnull=False, day__gte=rates.begins)
    days: dict[tuple[date, int, int], dict[int, House]] = {}
    crews: dict[int, Crew] = {}
    for run in runs.select_related("crew", "task__house__site").order_by("day", "pk"):
        house = run.task.house
        crews[run.crew_id] = run.crew
        days.setdefault((run.day, house.site_id, run.crew_id), {})[house.pk] = house
    found = []
    for (day, site, crew), houses in days.items():
        rate = rates.of(site, day)
        if rate is None or (site, crew, day) in charged:
            continue
        named = tuple(sorted(houses.values(), key=lambda house: (house.name, house.pk)))
        found.append(ProposedTrip(named[0].site, crews[crew], day, named, rate))
    return found
