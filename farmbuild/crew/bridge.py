"""The one door from this app to the pure planners."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from farmbuild.measure import UnitSystem
from farmbuild.planning.house_work import (
    UNITS,
    USES,
    WorkCount,
    WorkKind,
    count_work,
    duration_words,
    minutes_on_site,
    person_minutes,
)
from farmbuild.planning.scheduling_inputs import Resource
from farmbuild.planning.work_hours import SLOT_MINUTES, Days, Hours, crew_windows, next_slot, slots_of
from farmbuild.planning.work_order import Wait, circle_in, in_order, waits_for, without
from farmbuild.planning.work_standard import (
    CAUTIONS,
    RATES,
    RATES_SOURCE,
    STEPS,
    WAITS,
    Spread,
    gate_problem,
    spread_of,
)
from farmbuild.sites.bridge import house_input, materials_in
from farmbuild.sites.models import House

__all__ = [
    "CAUTIONS",
    "RATES",
    "RATES_SOURCE",
    "SLOT_MINUTES",
    "STEPS",
    "UNITS",
    "USES",
    "WAITS",
    "Days",
    "Hours",
    "Resource",
    "Spread",
    "Wait",
    "WorkCount",
    "WorkKind",
    "circle_in",
    "crew_resource",
    "duration_words",
    "gate_problem",
    "in_order",
    "minutes_on_site",
    "next_slot",
    "person_minutes",
    "slots_of",
    "spread_of",
    "waits_for",
    "without",
    "work_counts",
]


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


def work_counts(house: House, units: UnitSystem | str) -> tuple[WorkCount, ...]:
    """Of a house without ``spec_problems``, with its materials at hand."""
    return count_work(house_input(house), materials_in(house), UnitSystem(units))
