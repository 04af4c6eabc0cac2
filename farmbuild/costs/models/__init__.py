"""Time in money, equipment by the day and trips: each kept with the rate of its day."""

from farmbuild.costs.models.equipment import Equipment, EquipmentDay, EquipmentRate
from farmbuild.costs.models.posted import Posted, PostedQuerySet, RateSince
from farmbuild.costs.models.time import MAX_MINUTES, PaidTime, PayRate
from farmbuild.costs.models.trips import Trip, TripRate

__all__ = [
    "MAX_MINUTES",
    "Equipment",
    "EquipmentDay",
    "EquipmentRate",
    "PaidTime",
    "PayRate",
    "Posted",
    "PostedQuerySet",
    "RateSince",
    "Trip",
    "TripRate",
]
