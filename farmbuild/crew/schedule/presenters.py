"""What the pages of the week and of a schedule show, gathered once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext

from farmbuild.common.pages import ROWS
from farmbuild.common.paging import paged
from farmbuild.common.speaking import said, said_count
from farmbuild.crew.models import Schedule, Task
from farmbuild.crew.people.selectors import any_crew_of, crews_of
from farmbuild.crew.schedule import board as boards
from farmbuild.crew.schedule import selectors
from farmbuild.crew.schedule.comparison import Comparison, compare
from farmbuild.crew.schedule.problem import SLOT
from farmbuild.crew.schedule.strokes import presenters as pictures
from farmbuild.crew.schedule.tables import DayTable, HousePlanTable, HouseProgressTable, MoveTable
from farmbuild.crew.steps.outdated import outdated_houses
from farmbuild.crew.wind.selectors import wind_lines
from farmbuild.measure import format_minutes
from farmbuild.orgs.answers.kept import GOODS, Answers
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.phases.selectors import phases_of_houses
from farmbuild.plans.season.presenters import work_line
from farmbuild.sites.models import House


def first_day(organisation: Organisation) -> date:
    """Today; where nothing is to do this week, the day of the next task."""
    zone, today = zone_of(organisation=organisation), today_of(organisation=organisation)
    start = selectors.midnight(boards.monday_of(today), zone)
    rows = selectors.tasks_of(organisation=organisation).filter(ends_at__gt=start)
    coming = rows.values_list("starts_at", flat=True).first()
    return max(today, coming.astimezone(zone).date()) if coming else today


def takes_words(task: Task) -> str:
    """How long it is planned to take on site, and where that is from."""
    if task.own_minutes is None:
        return format_minutes(task.minutes)
    return gettext("%(own_minutes)s, a length of its own; %(minutes)s by the rate") % {
        "own_minutes": format_minutes(task.own_minutes),
        "minutes": format_minutes(task.minutes),
    }


def length_shown(task: Task) -> dict[str, int | None]:
    """What the form of its length begins with."""
    hours, minutes = divmod(task.own_minutes, 60) if task.own_minutes else (None, None)
    return {"hours": hours, "minutes": minutes, "seen": task.own_minutes}


def week_page(answers: Answers, day: date) -> dict[str, Any]:
    """Of the week that the day is in."""
    organisation, request = answers.organisation, answers.request
    zone = zone_of(organisation=organisation)
    first = boards.monday_of(day)
    every = selectors.between(selectors.tasks_of(organisation=organisation), first, 7, zone)
    rows = list(every[: boards.MAX_ROWS])
    left_out = every.count() - len(rows)
    shifts = selectors.shifts_by_crew(organisation=organisation)
    found = boards.week_of(rows, first, zone, shifts, left_out=left_out)
    wind = wind_lines(organisation=organisation, first=first, last=found.last)
    return {
        "week": found,
        "zone": zone,
        "picture": pictures.shown(
            organisation=organisation,
            tasks=rows,
            days=[first + timedelta(days=n) for n in range(7)],
            chosen=day,
            shifts=shifts,
            wind=wind,
            answers=answers,
        ),
        "days": answers.get(
            "crew days",
            lambda: [(at, DayTable(lines, organisation=organisation).as_html(request)) for at, lines in found.days],
            first,
            without=GOODS,
        ),
        "kinds": [line.task.kind for line in found.lines],
        "wind_over": [day for day, lines in sorted(wind.items()) if any(line.over for line in lines)],
        "before": first - timedelta(days=7),
        "after": first + timedelta(days=7),
    }


def board_page(request: HttpRequest, asked: date | None) -> dict[str, Any]:
    """The week that was asked for, how the published schedule stands, what is still to plan, and how far houses are.

    Each part is kept as the page shows it, by what it is told of besides the rows.
    """
    with Answers(request, dear=True) as answers:
        overdue = selectors.overdue(organisation=answers.organisation, now=answers.now)
        return (
            answers.get("crew week", lambda: _week_shown(answers, asked), asked, answers.minute, without=GOODS)
            | answers.get("crew standing", lambda: _standing(answers), overdue)
            | answers.get("crew houses", lambda: _houses_shown(request), request.GET.urlencode(), without=GOODS)
        )


def _week_shown(answers: Answers, asked: date | None) -> dict[str, Any]:
    found = week_page(answers, asked or first_day(answers.organisation))
    week = found["week"]
    return {
        "week": {
            "first": week.first,
            "last": week.last,
            "task_count": week.task_count,
            "crew_count": week.crew_count,
            "site_count": week.site_count,
        },
        "kinds": found["kinds"],
        "before": found["before"],
        "after": found["after"],
        "week_body": answers.shown("crew/schedule/week_body.html", **found),
    }


def _houses_shown(request: HttpRequest) -> dict[str, Any]:
    organisation = request.organisation
    houses = HouseProgressTable(selectors.progress_of(organisation=organisation), organisation=organisation)
    paged(request, houses, rows=ROWS)
    return {"houses": houses.as_html(request), "houses_page": houses.page.number}


def _standing(answers: Answers) -> dict[str, Any]:
    organisation = answers.organisation
    tasks = selectors.tasks_of(organisation=organisation)
    left = tasks.exclude(state=Task.State.DONE)
    latest = selectors.latest_published(organisation=organisation)
    comparison = compare(organisation=organisation, schedule=latest) if latest else Comparison()
    ends = latest and datetime.fromisoformat(latest.result["ends_at"])
    open_count, unplaced = left.count(), left.filter(starts_at=None).count()
    since = _since(
        organisation,
        comparison,
        gettext("Since schedule %(latest)s was published") % {"latest": latest.number} if latest else "",
    )
    line = work_line(organisation=organisation, title=gettext("The season: work at each house by week"))

    return {
        "latest": latest.number if latest else None,
        "since": answers.shown("crew/schedule/misfits.html", **since) if comparison else "",
        "misfits": bool(since["misfits"]),
        "outdated": answers.shown("crew/schedule/outdated.html", outdated=outdated_houses(organisation=organisation)),
        "ends": ends and ends.astimezone(zone_of(organisation=organisation)).date(),
        "open_count": open_count,
        # Nothing is to be worked out: the work itself comes next.
        "followed": bool(latest and open_count and not (comparison or unplaced)),
        "line": answers.shown("parts/season/line.html", line=line) if line else "",
        "no_crew": not crews_of(organisation=organisation).exists(),
        "unplaced": unplaced,
    }


def _since(organisation: Organisation, comparison: Comparison, since: str) -> dict[str, Any]:
    """What changed, and each task that no longer fits with why."""
    found = comparison.misfits or {}
    tasks = selectors.named_tasks(organisation=organisation, keys=found)
    return {"comparison": comparison, "since": since, "misfits": [(task, found[pk]) for pk, task in tasks.items()]}


@dataclass(frozen=True)
class Move:
    """A task that stands elsewhere than when the schedule was asked for; times are local."""

    task: Task
    was: datetime
    was_crew: str
    starts: datetime
    crew: str

    @property
    def by(self) -> str:
        days = (self.starts.date() - self.was.date()).days
        if days:
            return _off(said_count(abs(days), "day"), days)
        minutes = round((self.starts - self.was).total_seconds() / 60)
        if not minutes:
            return gettext("the same start")
        return _off(format_minutes(abs(minutes)), minutes)


def _off(time: str, by: float) -> str:
    return (gettext("%(time)s later") if by > 0 else gettext("%(time)s sooner")) % {"time": time}


def _moves(organisation: Organisation, result: Mapping[str, Any], tasks: Mapping[int, Task]) -> list[Move]:
    """By the new start; whatever moved and is on no list any more is left out."""
    zone = zone_of(organisation=organisation)
    crews = dict(any_crew_of(organisation=organisation).values_list("pk", "name"))
    places = {place["task"]: place for place in result["placed"]}

    def local(text: str) -> datetime:
        return datetime.fromisoformat(text).astimezone(zone)

    found = [
        Move(
            tasks[row["task"]],
            local(row["starts_at"]),
            crews.get(row["crew"], gettext("a crew since removed")),
            local(places[row["task"]]["starts_at"]),
            crews.get(places[row["task"]]["crew"], gettext("a crew since removed")),
        )
        for row in result.get("moves", ())
        if row["task"] in tasks
    ]
    return sorted(found, key=lambda move: (move.starts, move.task.pk))


@dataclass(frozen=True)
class HousePlan:
    """What is left to do of one house by a schedule; days of the calendar."""

    house: House
    begins: date
    ends: date
    due: date | None
    #: How far its plan is; empty where there is none.
    phase: str

    @property
    def margin(self) -> str:
        if self.due is None:
            return ""
        days = (self.due - self.ends).days
        if not days:
            return gettext("on the day")
        words = gettext("%(days)s early") if days > 0 else gettext("%(days)s late")
        return words % {"days": said_count(abs(days), "day")}


def _each_house(organisation: Organisation, result: Mapping[str, Any]) -> list[HousePlan]:
    """By the day on which it is done."""
    zone = zone_of(organisation=organisation)
    places = {place["task"]: place for place in result["placed"]}
    spans: dict[int, tuple[datetime, datetime]] = {}
    houses: dict[int, House] = {}
    for task in selectors.tasks_with_due(organisation=organisation):
        if place := places.get(task.pk):
            begins, ends = (datetime.fromisoformat(place[name]) for name in ("starts_at", "ends_at"))
            first, last = spans.get(task.house_id, (begins, ends))
            spans[task.house_id] = (min(first, begins), max(last, ends))
            houses[task.house_id] = task.house
    phases = phases_of_houses(organisation=organisation, houses=list(spans))
    found = [
        HousePlan(
            houses[pk],
            begins.astimezone(zone).date(),
            # What ends at midnight has ended on the day before.
            max(begins, ends - SLOT).astimezone(zone).date(),
            houses[pk].work.due if hasattr(houses[pk], "work") else None,
            said(phases[pk].phase.label) if pk in phases else "",
        )
        for pk, (begins, ends) in spans.items()
    ]
    return sorted(found, key=lambda row: (row.ends, row.house.name, row.house.pk))


def schedule_page(request: HttpRequest, schedule: Schedule) -> dict[str, Any]:
    """Of one that is worked out, its parts as the page shows them."""
    with Answers(request, dear=True) as answers:
        overdue = selectors.overdue(organisation=answers.organisation, now=answers.now)
        asked = request.GET.urlencode()
        return answers.get("schedule", lambda: _schedule_shown(answers, schedule), schedule, overdue, asked)


def _schedule_shown(answers: Answers, schedule: Schedule) -> dict[str, Any]:
    request, found = answers.request, ready_page(answers.organisation, schedule)
    since = {name: found.pop(name) for name in ("comparison", "since", "misfits")}
    line, outdated, moves, each = (found.pop(name) for name in ("line", "outdated", "moves", "each"))
    return found | {
        "line": answers.shown("parts/season/line.html", line=line) if line else "",
        "outdated": answers.shown("crew/schedule/outdated.html", outdated=outdated),
        "since": answers.shown("crew/schedule/misfits.html", **since) if since["comparison"] else "",
        "misfits": bool(since["misfits"]),
        "moves": paged(request, moves, rows=ROWS).as_html(request) if found["moved"] else "",
        "each": paged(request, each, rows=ROWS).as_html(request),
    }


def ready_page(organisation: Organisation, schedule: Schedule) -> dict[str, Any]:
    """A schedule that is worked out: what moves, what is late, what changed since, and how good it is."""
    result, zone = schedule.result, zone_of(organisation=organisation)
    keys = [*(row["task"] for row in result.get("moves", ())), *(key for key, _ in result["unplaced"])]
    tasks = selectors.named_tasks(organisation=organisation, keys=keys)
    houses = dict(selectors.progress_of(organisation=organisation).order_by().values_list("pk", "name"))
    other = None if schedule.published_at else selectors.published_since(schedule=schedule)
    past = schedule.published_at or other
    comparison = Comparison() if past else compare(organisation=organisation, schedule=schedule)
    moves, each = _moves(organisation, result, tasks), _each_house(organisation, result)
    return {
        **_since(organisation, comparison, gettext("Since it was worked out")),
        "outdated": outdated_houses(organisation=organisation),
        "other": other,
        "line": work_line(
            organisation=organisation,
            title=gettext("The season by schedule %(schedule)s: work at each house by week")
            % {"schedule": schedule.number},
            places={
                place["task"]: (datetime.fromisoformat(place["starts_at"]), datetime.fromisoformat(place["ends_at"]))
                for place in result["placed"]
            },
        ),
        "optimal": result["optimal"],
        "late_bound": result["late_bound"],
        "placed": len(result["placed"]),
        "house_count": len(each),
        "ends": datetime.fromisoformat(result["ends_at"]).astimezone(zone),
        "gap": format_minutes(int((result["makespan"] - result["bound"]) * SLOT.total_seconds() // 60)),
        "late": [
            (houses.get(row["house"]) or gettext("A house since archived"), row["days"]) for row in result["late"]
        ],
        "unplaced": [(tasks.get(key), why) for key, why in result["unplaced"]],
        "moved": len(moves),
        "latest": selectors.published_before(schedule=schedule),
        "moves": MoveTable(moves, organisation=organisation, prefix="move-"),
        "each": HousePlanTable(each, organisation=organisation, prefix="house-"),
    }
