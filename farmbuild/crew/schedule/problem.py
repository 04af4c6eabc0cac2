"""The open work of an organisation as the planner takes it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max, Prefetch, Q, QuerySet
from django.utils.translation import gettext

from farmbuild.crew import bridge
from farmbuild.crew.actuals.bends import bent_until
from farmbuild.crew.bookings.selectors import bender_blocks
from farmbuild.crew.models import Crew, HouseWork, Kind, Person, Task, WorkStep
from farmbuild.crew.people import selectors as people
from farmbuild.crew.steps.selectors import Releases, afters_of, releases_of
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

#: Windows of crews are worked out for so many days; what does not fit in them is listed as not placed.
DAYS_AHEAD = 365
ON_A_BENDER = frozenset({Kind.TRIAL, Kind.BEND})
SLOT = timedelta(minutes=bridge.SLOT_MINUTES)


@dataclass(frozen=True)
class ScheduleProblem:
    """``ways``: of each task, the crew and bender of each of its ways.

    ``reasons``: by task, why it has no way at all.
    """

    tasks: tuple[bridge.Task, ...]
    resources: bridge.Resources
    ways: dict[str, list[tuple[int, int | None]]]
    dues: dict[str, str]
    reasons: dict[str, str]

    @property
    def packed(self) -> dict[str, Any]:
        """Tasks and resources as JSON."""
        return bridge.pack_work(self.tasks, self.resources)


def live_tasks(*, organisation: Organisation) -> QuerySet[Task]:
    """Tasks of houses that are not archived, in one order, with house, site and recipe."""
    rows = Task.objects.of(organisation).filter(house__archived_at=None, house__site__archived_at=None)
    # A house has many columns and a dozen tasks: it is read once.
    return rows.prefetch_related(Prefetch("house", House.objects.select_related("site", "recipe"))).order_by("pk")


def releases_for(*, organisation: Organisation, tasks: Iterable[Task]) -> Releases:
    """Of the houses of ``tasks``, which come from ``live_tasks``."""
    houses = {task.house_id: task.house for task in tasks}
    return releases_of(organisation=organisation, houses=houses.values())


def schedule_problem(
    *, organisation: Organisation, tasks: list[Task], start: datetime, releases: Releases | None = None
) -> ScheduleProblem:
    """``start`` is on a quarter of an hour; ``tasks`` come from ``live_tasks``, ``releases`` from ``releases_for``
    them, where they were worked out already."""
    if releases is None:
        releases = releases_for(organisation=organisation, tasks=tasks)
    return OpenWork(organisation, tasks, start).work(releases)


def no_bender(recipe: Recipe) -> str:
    return gettext(
        "None of your benders makes the radius of %(recipe)s. Name a bender in the recipe, or add "
        "the bender with its radius."
    ) % {"recipe": recipe}


class OpenWork:
    """``tasks`` and what decides where they can stand; ``work`` is all that is open as one problem."""

    def __init__(self, organisation: Organisation, tasks: list[Task], start: datetime) -> None:
        self.organisation, self.tasks, self.start = organisation, tasks, start
        self.zone = people.zone_of(organisation=organisation)
        self.crews = people.crew_resources(organisation=organisation, start=start, days=DAYS_AHEAD)
        self.crew_names = dict(Crew.objects.of(organisation).values_list("pk", "name"))
        self.benders = list(Bender.objects.of(organisation).filter(archived_at=None).prefetch_related("tubes"))
        self.house_work = {row.house_id: row for row in HouseWork.objects.of(organisation)}
        self.blocks = bender_blocks(organisation, start.astimezone(self.zone).date(), DAYS_AHEAD)
        self.skills = self._skills()
        self.skill_of = {
            (template, kind): (skill, name)
            for template, kind, skill, name in WorkStep.objects.filter(
                template__organisation=organisation, skill__isnull=False
            ).values_list("template", "kind", "skill", "skill__name")
        }
        self.ways: dict[str, list[tuple[int, int | None]]] = {}
        self.reasons: dict[str, str] = {}

    def work(self, materials: Releases) -> ScheduleProblem:
        open_tasks = [task for task in self.tasks if task.state != Task.State.DONE]
        after, releases = self.waits(materials)
        planned = [self._planned(task, after[task.pk], releases[task.pk]) for task in open_tasks]
        resources = bridge.Resources(
            resources=self.crews + tuple(self.bender_resource(bender) for bender in self._used_benders()),
            travel=people.travel_of(organisation=self.organisation),
            travel_else=people.travel_else(organisation=self.organisation),
        )
        dues = {str(row.house_id): row.due.isoformat() for row in self.house_work.values() if row.due}
        return ScheduleProblem(tuple(planned), resources, self.ways, dues, self.reasons)

    def _planned(self, task: Task, after: list[bridge.After], release: int) -> bridge.Task:
        ref = str(task.pk)
        pairs = self._pairs(task)
        stays = self.stays(task)
        own = (task.crew_id, task.bender_id)
        if stays and own not in pairs:
            pairs.append(own)
        self.ways[ref] = pairs
        published = None
        start, end = self.slots(task)
        if start is not None and start >= 0 and own in pairs:
            published = bridge.Placed(ref, start, end, pairs.index(own))
        work = self.house_work.get(task.house_id)
        return bridge.Task(
            ref=ref,
            ways=tuple(self.way(task, crew, bender) for crew, bender in pairs),
            after=tuple(after),
            release=release,
            due=self.end_of(work.due) if work and work.due else None,
            job=str(task.house_id),
            place=task.house.site.slug,
            fixed=bridge.Placed(ref, *stays, pairs.index(own)) if stays else None,
            published=published,
        )

    def way(self, task: Task, crew: int, bender: int | None) -> bridge.Way:
        needs = [bridge.Need(f"crew-{crew}", task.people)]
        if bender is not None:
            needs.append(bridge.Need(f"bender-{bender}"))
        known = {resource.ref for resource in self.crews}
        # A task under way may be with a crew that has been archived since; it stays and holds nobody else.
        return bridge.Way(
            tuple(need for need in needs if need.resource in known or not need.resource.startswith("crew-")),
            bridge.slots_of(task.planned_minutes),
        )

    def able(self, task: Task) -> list[int]:
        """Crews with as many people as it takes, and the skill; where there is none ``reasons`` says why."""
        ref, work = str(task.pk), self.house_work.get(task.house_id)
        skill, skill_name = self.skill_of.get((work and work.template_id, task.kind), (None, ""))
        crews = [int(crew.ref.removeprefix("crew-")) for crew in self.crews if crew.capacity >= task.people]
        if not crews:
            self.reasons[ref] = gettext("No crew has %(people)s people. Put more people into one crew.") % {
                "people": task.people
            }
        able = [crew for crew in crews if skill is None or skill in self.skills[crew]]
        if crews and not able:
            self.reasons[ref] = gettext(
                "Nobody in a crew of %(people)s or more has the skill “%(skill_name)s”. Give it to someone, "
                "or take it off the step."
            ) % {"people": task.people, "skill_name": skill_name}
        return able

    def _pairs(self, task: Task) -> list[tuple[int, int | None]]:
        able = self.able(task)
        if task.kind not in ON_A_BENDER:
            return [(crew, None) for crew in able]
        benders = self.benders_for(task.house.recipe)
        if not benders:
            self.reasons[str(task.pk)] = no_bender(task.house.recipe)
        return [(crew, bender) for crew in able for bender in benders]

    def benders_for(self, recipe: Recipe) -> list[int]:
        """The recipe's own, and those rated for its radius that fit its tube or name no tube."""

        def fits(bender: Bender) -> bool:
            tubes = {tube.pk for tube in bender.tubes.all()}
            return bender.rated_radius == recipe.radius and (not tubes or recipe.tube_id in tubes)

        return [bender.pk for bender in self.benders if bender.pk == recipe.bender_id or fits(bender)]

    def stays(self, task: Task) -> tuple[int, int] | None:
        """From and to where a started or fixed task stays; the past is cut off at the start."""
        start, end = self.slots(task)
        if task.state == Task.State.STARTED:
            if start is None:
                return 0, bridge.slots_of(task.planned_minutes)
            return max(start, 0), max(end, 1)
        if task.fixed and start is not None and end > 0:
            return max(start, 0), end
        return None

    def slots(self, task: Task) -> tuple[int | None, int]:
        if task.starts_at is None or task.crew_id is None:
            return None, 0
        return (task.starts_at - self.start) // SLOT, -((self.start - task.ends_at) // SLOT)

    def waits(self, materials: Releases | None = None) -> tuple[dict[int, list[bridge.After]], dict[int, int]]:
        """By task: what it comes after and is open, and the slot from which what is done lets it start.

        ``materials``: when what it uses is there, where it waits for that too.
        """
        after: dict[int, list[bridge.After]] = defaultdict(list)
        releases: dict[int, int] = defaultdict(int)
        days = materials or {}
        for task in self.tasks:
            if day := days.get((task.house_id, task.kind)):
                releases[task.pk] = max(self.start_of(day), 0)
            if task.not_before:
                releases[task.pk] = max(releases[task.pk], self.start_of(task.not_before))
        by_key = {task.pk: task for task in self.tasks}
        stopped = dict(
            live_tasks(organisation=self.organisation)
            .filter(state=Task.State.DONE)
            .annotate(last=Max("actuals__stopped_at", filter=Q(actuals__reverses=None, actuals__reversed_by=None)))
            .values_list("pk", "last")
        )
        for pk, bent in bent_until(self.tasks).items():
            # With its last hoop; where it ended short of them, with what was pressed or bent last.
            ended_short = by_key[pk].done < by_key[pk].count
            stopped[pk] = max(stopped.get(pk) or bent, bent) if ended_short else bent
        for pk, before, lag in afters_of(organisation=self.organisation):
            if pk not in by_key or before not in by_key:
                continue
            first = by_key[before]
            if first.state != Task.State.DONE:
                after[pk].append(bridge.After(str(before), bridge.slots_of(lag)))
            elif ended := stopped.get(before) or first.ends_at:
                free = -((self.start - ended) // SLOT) + bridge.slots_of(lag)
                releases[pk] = max(releases[pk], free, 0)
        return after, releases

    def _skills(self) -> dict[int, set[int]]:
        found: dict[int, set[int]] = defaultdict(set)
        rows = Person.objects.of(self.organisation).filter(archived_at=None, crew__isnull=False, skills__isnull=False)
        for crew, skill in rows.values_list("crew", "skills"):
            found[crew].add(skill)
        return found

    def _used_benders(self) -> list[int]:
        return sorted({bender for pairs in self.ways.values() for _, bender in pairs if bender is not None})

    def bender_resource(self, bender: int) -> bridge.Resource:
        """There always, but for the days on which a member has it."""
        last = DAYS_AHEAD * 24 * 60 // bridge.SLOT_MINUTES
        windows, free = [], 0
        for first, until in self.blocks.get(bender, ()):
            gone, back = max(self.start_of(first), 0), max(self.start_of(until + timedelta(days=1)), 0)
            if gone > free:
                windows.append(bridge.Window(free, min(gone, last), 1))
            free = max(free, back)
            if free >= last:
                break
        if free < last:
            windows.append(bridge.Window(free, last, 1))
        return bridge.Resource(f"bender-{bender}", 1, tuple(w for w in windows if w.start < w.end))

    def start_of(self, day: date) -> int:
        midnight = datetime.combine(day, time(), self.zone)
        return -((self.start - midnight.astimezone(ZoneInfo("UTC"))) // SLOT)

    def end_of(self, day: date) -> int:
        return max(self.start_of(day + timedelta(days=1)), 0)
