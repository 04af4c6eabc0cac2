"""The one door from this app to the pure planners."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from farmbuild.planning.scheduling_inputs import Resource
from farmbuild.planning.work_hours import SLOT_MINUTES, Days, Hours, crew_windows, next_slot, slots_of

__all__ = ["SLOT_MINUTES", "Days", "Hours", "Resource", "crew_resource", "next_slot", "slots_of"]


def crew_resource(
    *,
    ref: str,
    hours: Sequence[Hours],
    people: Sequence[Sequence[Days]],
    closed: Sequence[Days],
    zone: str,
    start: datetime,
    days: int,
) -> Resource:
    """A crew as the planner takes it; arguments as in ``planning.work_hours.crew_windows``."""
    windows = crew_windows(hours=hours, people=people, closed=closed, zone=zone, start=start, days=days)
    return Resource(ref=ref, capacity=len(people), windows=windows, travels=True)
