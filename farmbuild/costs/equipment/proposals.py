"""Days of benders at houses that are not charged yet: a hoop was bent for the house that day, booked or not."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from farmbuild.costs.models import Equipment, EquipmentDay
from farmbuild.costs.rates import EquipmentRates
from farmbuild.crew.models import Actual, BenderBooking, Kind
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

#: Work at which the bender stands there.
_BENDING = (Kind.TRIAL, Kind.BEND)


@dataclass(frozen=True)
class ProposedDay:
    equipment: Equipment
    house: House
    day: date
    booking: BenderBooking | None
    rate: Decimal

    @property
    def token(self) -> str:
        return f"{self.equipment.pk}:{self.house.pk}:{self.day}"


def proposed_days(*, organisation: Organisation) -> list[ProposedDay]:
    """By day, from the first day on from which a bender has a price. In few queries."""
    rates = EquipmentRates(organisation)
    if rates.begins is None:
        return []
    things = Equipment.objects.of(organisation).filter(archived_at=None, bender__isnull=False).select_related("bender")
    by_bender = {thing.bender_id: thing for thing in things}
    booked: dict[int, list[BenderBooking]] = defaultdict(list)
    own = BenderBooking.objects.of(organisation).filter(member=None, last__gte=rates.begins)
    for booking in own.exclude(state=BenderBooking.State.CANCELLED).filter(bender__in=by_bender):
        booked[booking.bender_id].append(booking)
    days = EquipmentDay.objects.of(organisation).net().filter(day__gte=rates.begins)
    charged = set(days.values_list("equipment", "house", "day"))
    runs = Actual.objects.of(organisation).runs().filter(task__kind__in=_BENDING, day__gte=rates.begins)
    found: dict[str, ProposedDay] = {}
    for run in runs.select_related("task__house__recipe").order_by("day", "pk"):
        house = run.task.house
        bender = run.task.bender_id or house.recipe.bender_id
        thing = by_bender.get(bender)
        booking = next((one for one in booked[bender] if one.first <= run.day <= one.last), None)
        rate = rates.of(thing.pk, run.day) if thing else None
        if rate is not None and (thing.pk, house.pk, run.day) not in charged:
            one = ProposedDay(thing, house, run.day, booking, rate)
            found.setdefault(one.token, one)
    return [*found.values()]
