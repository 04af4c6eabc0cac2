"""The one door from this app to the pure planners."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from farmbuild.common.reading import units_of
from farmbuild.hoops.recipes.bridge import recipe_input
from farmbuild.measure import NumberStyle, UnitSystem, current_style
from farmbuild.planning.advice.builders import Builders
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts.own_rows import OWN_PURPOSES
from farmbuild.planning.house.spec import House as HouseInput
from farmbuild.planning.house.survey import Survey, survey
from farmbuild.planning.scheduling import WorkError, plan_work
from farmbuild.planning.scheduling.budget import Found
from farmbuild.planning.scheduling.inputs import After, Need, Placed, Resource, Resources, Task, Way, Window, WorkPlan
from farmbuild.planning.scheduling.packing import pack_work, work_from
from farmbuild.planning.scheduling.reasons import Hindrance, Reason
from farmbuild.planning.scheduling.verify import Broken, Fault, faults
from farmbuild.planning.sharing.plan import Bound, MemberDays, Standing, Taken, share
from farmbuild.planning.sharing.plan import Request as Wanted
from farmbuild.planning.sharing.plan import Rules as RulesOfSharing
from farmbuild.planning.sharing.words import level_words
from farmbuild.planning.work.cautions import OF_WORK, cautions_of
from farmbuild.planning.work.counting import (
    BY_LENGTH,
    USES,
    WorkCount,
    count_work,
    duration_words,
    in_units_of,
    minutes_on_site,
    person_minutes,
    unit_names,
)
from farmbuild.planning.work.hours import SLOT_MINUTES, Days, Hours, crew_windows, next_slot, slots_of
from farmbuild.planning.work.knowing import WITH_HOOPS, sleeve_words, to_know
from farmbuild.planning.work.order import Wait, circle_in, in_order, waits_for, without
from farmbuild.planning.work.standard import (
    RATES_SOURCE,
    STEPS,
    WAITS,
    Spread,
    gate_problem,
    spread_of,
    standard_rate,
)
from farmbuild.sites.bridge import WholeMaterials, house_input, materials_in, shape_of, whole
from farmbuild.sites.models import House

__all__ = [
    "BY_LENGTH",
    "OF_WORK",
    "OWN_PURPOSES",
    "RATES_SOURCE",
    "SLOT_MINUTES",
    "STEPS",
    "USES",
    "WAITS",
    "WITH_HOOPS",
    "After",
    "Bound",
    "Broken",
    "Builders",
    "Days",
    "Fault",
    "Found",
    "Hindrance",
    "Hours",
    "MemberDays",
    "Need",
    "Placed",
    "Reason",
    "Resource",
    "Resources",
    "RulesOfSharing",
    "Spread",
    "Standing",
    "Survey",
    "Taken",
    "Task",
    "Wait",
    "Wanted",
    "Way",
    "Window",
    "WorkCount",
    "WorkError",
    "WorkKind",
    "WorkPlan",
    "cautions_of",
    "circle_in",
    "convert_each",
    "crew_resource",
    "duration_words",
    "faults",
    "gate_problem",
    "in_order",
    "level_words",
    "minutes_on_site",
    "next_slot",
    "pack_work",
    "person_minutes",
    "share",
    "slots_of",
    "spread_of",
    "standard_rate",
    "survey_of",
    "task_unit",
    "to_know_of",
    "unit_names",
    "units_of_task",
    "waits_for",
    "without",
    "work_counts",
    "work_from",
    "work_out",
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
    windows = _windows(tuple(hours), tuple(map(tuple, people)), tuple(closed), zone, start, days)
    return Resource(ref=ref, capacity=len(people), windows=windows, travels=True)


# A year of days for each crew; a schedule is looked at many times from the same start.
@lru_cache(maxsize=256)
def _windows(
    hours: tuple[Hours, ...],
    people: tuple[tuple[Days, ...], ...],
    closed: tuple[Days, ...],
    zone: str,
    start: datetime,
    days: int,
) -> tuple[Window, ...]:
    return crew_windows(hours=hours, people=people, closed=closed, zone=zone, start=start, days=days)


def units_of_task(task: Any) -> UnitSystem:
    """In which it was counted when it was made."""
    return UnitSystem.METRIC if task.metric else UnitSystem.IMPERIAL


def task_unit(task: Any) -> tuple[str, str]:
    """What it is counted in: one, and many."""
    return unit_names(WorkKind(task.kind), units_of_task(task))


def convert_each(each: Decimal, kind: str, made: UnitSystem | str, wanted: UnitSystem | str) -> Decimal:
    """Minutes for a foot as those for a metre, or the other way; what is no length keeps its own."""
    return in_units_of(each, WorkKind(kind), UnitSystem(made), UnitSystem(wanted))


def work_counts(house: House, units: UnitSystem | str) -> tuple[WorkCount, ...]:
    """Of a house without ``spec_problems``, with its materials at hand."""
    return _work_counts(house_input(house), whole(materials_in(house)), UnitSystem(units), current_style())


# Boards and day lists ask for the same houses again and again, and equal input gives equal work.
@lru_cache(maxsize=1024)
def _work_counts(
    house: HouseInput, named: WholeMaterials, units: UnitSystem, _style: NumberStyle
) -> tuple[WorkCount, ...]:
    return count_work(house, {material.code: material for material, _ in named}, units)


def to_know_of(house: House, kind: WorkKind, *, free_span: Decimal | None) -> tuple[str, ...]:
    """Of a house without ``spec_problems``. ``free_span``: what its hoops are bent to; None: what its recipe makes."""
    units, shape = units_of(house.organisation), shape_of(house)
    if free_span is not None:
        shape = replace(shape, free_span=free_span)
    sleeve = sleeve_words(recipe_input(house.recipe), units)
    return to_know(kind, shape, joined=house.recipe.sticks > 1, units=units, sleeve=sleeve)


def survey_of(house: House) -> Survey:
    """Of a house without ``spec_problems``."""
    return survey(shape_of(house))


def work_out(
    tasks: Sequence[Task],
    resources: Resources,
    *,
    seconds: float,
    effort: float | None = None,
    progress: Callable[[Found], bool | None] | None = None,
) -> WorkPlan:
    """See ``planning.scheduling.plan_work``; raises WorkError."""
    return plan_work(tasks, resources, time_limit=seconds, effort=effort, progress=progress)
