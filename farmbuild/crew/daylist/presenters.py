"""What stands on the list of a day."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext

from farmbuild.crew.actuals.bends import batches_at
from farmbuild.crew.actuals.forms import TickForm
from farmbuild.crew.actuals.presenters import press_block
from farmbuild.crew.actuals.taking_back import may_take_back
from farmbuild.crew.actuals.words import said_unit
from farmbuild.crew.daylist import selectors
from farmbuild.crew.gate.selectors import closed_gates
from farmbuild.crew.models import MAX_PHOTOS, Kind, Person, Task
from farmbuild.crew.problems.forms import ACCEPT
from farmbuild.crew.schedule.selectors import shifts_by_crew
from farmbuild.crew.schedule.strokes import presenters as pictures
from farmbuild.crew.steps.facts import facts_of
from farmbuild.hoops.batches.selectors import HouseHoops
from farmbuild.measure import format_minutes
from farmbuild.orgs.acts import Act
from farmbuild.orgs.answers.kept import Answers
from farmbuild.orgs.answers.tokens import with_tokens, without_tokens
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.selectors import plans_of_houses


def day_page(
    request: HttpRequest, person: Person, day: date, *, typed: dict[int, TickForm] | None = None
) -> dict[str, Any]:
    """Context of the page. ``typed``: by task, a form that was sent and is shown again with its errors."""
    with Answers(request, dear=True) as answers:
        if typed:
            found = _shown(answers, person, day, typed) | _by_the_clock(answers, person, day)
        else:
            found = answers.get("day", lambda: _kept(answers, person, day), person, request.user.pk, day)
            # Of a form that was sent, the token of its press stays; the others are of this page alone.
            found = found | {"tasks": with_tokens(found["tasks"], request)}
            found |= answers.get("day drawn", lambda: _by_the_clock(answers, person, day), person, day, answers.minute)
    return found | {
        "person": person,
        "day": day,
        "zone": zone_of(organisation=answers.organisation),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
    }


def _kept(answers: Answers, person: Person, day: date) -> dict[str, Any]:
    found = _shown(answers, person, day, {})
    return found | {"tasks": without_tokens(found["tasks"])}


def _shown(answers: Answers, person: Person, day: date, typed: dict[int, TickForm]) -> dict[str, Any]:
    """``many`` tasks, of which so many are ``left`` to do: as the page has them, with who is in the crew;
    ``wrong``: whether a form stands there with its errors."""
    request, organisation = answers.request, answers.organisation
    zone = zone_of(organisation=organisation)
    found = selectors.day_of(organisation=organisation, person=person, day=day)
    gates = closed_gates(organisation=organisation, tasks=found)
    crew = selectors.crew_names(organisation=organisation, person=person)
    given = {"day": day, "zone": zone, "person": person, "crew_size": len(crew)}
    may_undo = partial(may_take_back, user=request.user, plans=Act.PLAN in request.acts)
    bends = batches_at(found)
    facts = facts_of(organisation=organisation, tasks=found)
    cut_lists = cut_lists_of(organisation=organisation, tasks=found)
    rows = [
        _row(task, typed=typed.get(task.pk), may_undo=may_undo, hoops=bends.get(task.pk), **given)
        | {"gate": gates.get(task.pk), "facts": facts.get(task.pk), "cut_list": cut_lists.get(task.pk)}
        for task in found
    ]
    more = {"accept": ACCEPT, "max_photos": MAX_PHOTOS}
    return {
        "tasks": answers.shown("crew/daylist/tasks.html", rows=rows, person=person, day=day, zone=zone, **more),
        "many": len(rows),
        "left": sum(task.state != Task.State.DONE for task in found),
        "crew": crew,
        "wrong": any(row["form"].is_bound for row in rows),
    }


def cut_lists_of(*, organisation: Organisation, tasks: Iterable[Task]) -> dict[int, str]:
    """Address of what is sawn for the house, by the key of the task of sawing; of houses of accepted plans."""
    saws = [task for task in tasks if task.kind == Kind.SAW]
    plans = plans_of_houses(organisation=organisation, houses=[task.house_id for task in saws])
    return {
        task.pk: f"{reverse('plans:cutting', args=[plans[task.house_id]])}?{urlencode({'house': task.house.slug})}"
        for task in saws
        if task.house_id in plans
    }


def _by_the_clock(answers: Answers, person: Person, day: date) -> dict[str, Any]:
    """The day of the person's crew as strokes, with the tick of now; and the wind, of which what is old is told."""
    organisation = answers.organisation
    tasks = selectors.planned_on(organisation=organisation, person=person, day=day)
    shifts = shifts_by_crew(organisation=organisation)
    wind = selectors.wind_of(organisation=organisation, day=day, tasks=tasks)
    return {
        "picture": pictures.shown(
            organisation=organisation, tasks=tasks, days=[day], chosen=day, shifts=shifts, crews={}
        ),
        "wind": answers.shown("crew/wind/notes.html", notes=wind),
    }


def _when(starts: datetime | None, ends: datetime | None) -> str:
    """The hours of a task on this day; None: on another day."""
    begun, over = (f"{at:%H:%M}" if at else "" for at in (starts, ends))
    if begun and over:
        return gettext("%(begun)s to %(over)s") % {"begun": begun, "over": over}
    if begun:
        return gettext("%(begun)s, goes on the next day") % {"begun": begun}
    if over:
        return gettext("Goes on from the day before to %(over)s") % {"over": over}
    return gettext("Goes on from the day before, goes on the next day")


def _row(
    task: Task,
    *,
    day: date,
    zone: ZoneInfo,
    person: Person,
    crew_size: int,
    typed: TickForm | None,
    may_undo: Callable[..., bool],
    hoops: HouseHoops | None,
) -> dict[str, Any]:
    starts, ends = task.starts_at.astimezone(zone), task.ends_at.astimezone(zone)
    kept = list(task.actuals.all())
    return {
        "task": task,
        "when": _when(starts if starts.date() == day else None, ends if ends.date() == day else None),
        "takes": format_minutes(task.planned_minutes),
        "unit": said_unit(task),
        "problems": [one for one in kept if one.problem and not hasattr(one, "settled")],
    } | press_block(task, kept, person=person, crew_size=crew_size, typed=typed, may_undo=may_undo, hoops=hoops)
