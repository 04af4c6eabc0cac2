"""Working out a schedule: one worker at a time, with notes on how far it is."""

from __future__ import annotations

import logging
from datetime import date, datetime
from functools import partial
from typing import Any

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext_noop

from farmbuild.common.long_work import AskedToEnd, Claim, WorkStopped, listed, run_claimed
from farmbuild.common.speaking import said_day
from farmbuild.crew import bridge
from farmbuild.crew.models import Schedule
from farmbuild.crew.schedule.problem import SLOT
from farmbuild.crew.schedule.sentences import Names, sentences_of
from farmbuild.measure import count_noun, format_count
from farmbuild.orgs.clock import zone_in_force, zone_of

logger = logging.getLogger(__name__)

SECONDS = 30.0
UNEXPECTED = gettext_noop(
    "The schedule could not be worked out because of a fault in the program, not in what you entered. "
    "Try again; if it stops again, tell whoever runs the server."
)
#: A schedule is checked by code that shares nothing with the search; of what is wrong, the first few are said.
BROKEN = gettext_noop(
    "The schedule that was worked out breaks a rule, so it is not kept. This is a fault in the program, not in what "
    "you entered. Try again; if it stops again, tell whoever runs the server."
)
MAX_FAULTS = 5


def work_out_schedule(schedule_id: int, *, effort: float | None = None) -> None:
    """Work out a waiting schedule and store the result. ``effort``: less than it may take, as ``plan_work`` counts it.

    Does nothing when it is ready, has stopped, or is in another worker's hands. What went wrong stands in ``problem``.
    """
    run_claimed(Schedule, schedule_id, partial(_work_out, effort=effort), unexpected=UNEXPECTED)


def _work_out(claim: Claim, *, effort: float | None) -> None:
    schedule = Schedule.objects.select_related("organisation").get(pk=claim.pk)
    # What is found is kept, and so it is said in one language.
    with zone_in_force(schedule.organisation), translation.override(settings.LANGUAGE_CODE):
        _schedule(claim, schedule, effort)


def _schedule(claim: Claim, schedule: Schedule, effort: float | None) -> None:
    ended = AskedToEnd(claim)

    def note(found: bridge.Found) -> bool:
        claim.note(round(found.share * 100), 100, said_of(found, schedule))
        return ended()

    tasks, resources = bridge.work_from(schedule.inputs["work"])
    try:
        plan = bridge.work_out(tasks, resources, seconds=SECONDS, effort=effort, progress=note)
    except bridge.WorkError as error:
        raise WorkStopped(listed(error.reasons)) from error
    if found := bridge.faults(tasks, resources, plan):
        some = [str(fault) for fault in found[:MAX_FAULTS]]
        logger.error("Schedule %s breaks %s rules: %s", schedule.pk, len(found), some)
        sentences = sentences_of(schedule.organisation, schedule.starts_at, found, MAX_FAULTS)
        raise WorkStopped("\n".join([BROKEN, *sentences]))
    claim.finish(result=_result(schedule, plan))


def said_of(found: bridge.Found, schedule: Schedule) -> str:
    """How far the search is, in houses and days."""
    if found.placed < found.jobs:
        placed = f"{format_count(found.placed)} of {count_noun(found.jobs, 'house')} placed"
    else:
        placed = f"{count_noun(found.jobs, 'house')} placed"
    parts = [f"{placed}, the last ends on {_day_of(found.ends, schedule)}"]
    if found.late:
        parts.append(f"{format_count(found.late)} late")
    if found.moved is not None:
        parts.append(f"{count_noun(found.moved, 'task')} moved")
    words = "; ".join(parts) + "."
    sooner, ends = (_day_of(slot, schedule) for slot in (found.no_sooner, found.ends))
    return f"{words} None ends before {sooner}." if found.no_sooner and sooner != ends else words


def _day_of(slot: int, schedule: Schedule) -> str:
    """The day on which what ends at ``slot`` ends; at midnight that is the day before."""
    ends = schedule.starts_at + max(0, slot - 1) * SLOT
    return said_day(ends.astimezone(zone_of(organisation=schedule.organisation)).date())


def _result(schedule: Schedule, plan: bridge.WorkPlan) -> dict[str, Any]:
    """Times are ISO 8601 in UTC; tasks, crews, benders and houses stand by their keys."""
    ways, start = schedule.inputs["ways"], schedule.starts_at

    def moment(slot: int) -> str:
        return (start + slot * SLOT).isoformat()

    placed = []
    for place in plan.placed:
        crew, bender = ways[place.task][place.way]
        placed.append(
            {
                "task": int(place.task),
                "crew": crew,
                "bender": bender,
                "starts_at": moment(place.start),
                "ends_at": moment(place.end),
            }
        )
    return {
        "placed": placed,
        "moves": _moves(schedule, placed),
        "ends_at": moment(plan.makespan),
        "makespan": plan.makespan,
        "bound": plan.bound,
        "optimal": plan.optimal,
        "late": [_late(schedule, plan, house) for house in plan.late],
        "late_bound": plan.late_bound,
        "moved": [int(ref) for ref in plan.moved],
        "unplaced": _unplaced(schedule, plan) if plan.unplaced else [],
        "broken": [[int(one), int(other)] for one, other in plan.broken],
        "method": plan.method,
    }


def _moves(schedule: Schedule, placed: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of each task that is not begun or fixed and stands elsewhere than before: its key, and where it stood."""
    before: dict[str, dict[str, Any]] = schedule.inputs.get("before", {})
    stays = {row["ref"] for row in schedule.inputs["work"]["tasks"] if row["fixed"]}

    def where(row: dict[str, Any]) -> tuple[Any, ...]:
        return (row["crew"], row["bender"], *(datetime.fromisoformat(row[name]) for name in ("starts_at", "ends_at")))

    return [
        before[ref] | {"task": place["task"]}
        for place in placed
        if (ref := str(place["task"])) in before and ref not in stays and where(before[ref]) != where(place)
    ]


def _late(schedule: Schedule, plan: bridge.WorkPlan, house: str) -> dict[str, int]:
    """By how many days of the calendar the last task of the house ends after the day it should stand by."""
    houses = {row["ref"]: row["job"] for row in schedule.inputs["work"]["tasks"]}
    last = max(place.end for place in plan.placed if houses[place.task] == house)
    # What ends at midnight has ended on the day before.
    ends: datetime = schedule.starts_at + (last - 1) * SLOT
    day = ends.astimezone(zone_of(organisation=schedule.organisation)).date()
    return {"house": int(house), "days": (day - date.fromisoformat(schedule.inputs["dues"][house])).days}


def _unplaced(schedule: Schedule, plan: bridge.WorkPlan) -> list[tuple[int, str]]:
    """The key of each task without a place, and why, in words that stay as they are now."""
    told = dict(plan.unplaced)
    waited_for = [int(reason.task) for reasons in told.values() for reason in reasons if reason.task]
    names = Names(schedule.organisation, schedule.starts_at, waited_for)
    own = schedule.inputs["reasons"]
    return [
        (int(ref), own.get(ref) or " ".join(dict.fromkeys(map(names.why, reasons)))) for ref, reasons in told.items()
    ]
