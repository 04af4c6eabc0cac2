"""Reads of templates, rates, and what waits for what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.db.models import Count, Prefetch, QuerySet

from farmbuild.crew.bridge import (
    OWN_PURPOSES,
    USES,
    Spread,
    Wait,
    WorkKind,
    convert_each,
    minutes_on_site,
    spread_of,
    standard_rate,
    units_of_task,
    without,
)
from farmbuild.crew.hours.selectors import learned_of
from farmbuild.crew.models import HouseWork, Kind, Rate, StepAfter, Task, WorkStep, WorkTemplate
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.plans.balance import still_to_find
from farmbuild.plans.selectors import accepted_slugs
from farmbuild.sites.models import House
from farmbuild.sites.selectors import own_steps_of
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.selectors import reservations_for_house, reservations_of

#: By the key of a house and the kind of work, the day from which what it uses is on site.
Releases = dict[tuple[int, str], date | None]


def templates_of(*, organisation: Organisation) -> QuerySet[WorkTemplate]:
    """With ``step_count`` and ``house_count``."""
    rows = WorkTemplate.objects.of(organisation)
    counts = {"step_count": Count("steps", distinct=True), "house_count": Count("houses", distinct=True)}
    return rows.annotate(**counts).order_by("name", "pk")


def steps_of(*, template: WorkTemplate) -> QuerySet[WorkStep]:
    """In order, with skill and what each waits for."""
    afters = Prefetch("afters", StepAfter.objects.select_related("after").order_by("after__position"))
    return template.steps.select_related("skill").prefetch_related(afters).order_by("position")


def waits_of(*, template: WorkTemplate) -> list[Wait]:
    """Between kinds; lags in minutes."""
    rows = StepAfter.objects.filter(step__template=template).order_by("step__position", "after__position")
    return [Wait(*row) for row in rows.values_list("step__kind", "after__kind", "lag_minutes")]


def rates_of(*, organisation: Organisation) -> dict[str, Rate]:
    """A rate for every kind: as stored, else our estimate, not stored."""
    stored = {row.kind: row for row in Rate.objects.of(organisation)}
    for row in stored.values():
        # The one at hand, so that none is asked for.
        row.organisation = organisation
    return {kind: stored.get(kind) or estimate(organisation, kind) for kind in Kind.values}


def estimate(organisation: Organisation, kind: str) -> Rate:
    standard = standard_rate(WorkKind(kind), UnitSystem(organisation.unit_system))
    return Rate(organisation=organisation, kind=kind, minutes_each=standard.each, minutes_once=standard.once)


def tasks_off_rates(*, organisation: Organisation) -> list[Task]:
    """Tasks that are not begun, of houses that are not archived, whose time is not what the rates of now say."""
    rates = rates_of(organisation=organisation)
    rows = Task.objects.of(organisation).filter(state=Task.State.OPEN, house__archived_at=None)
    return [task for task in rows.order_by("pk") if task.minutes != minutes_by(rates[task.kind], task)]


def minutes_by(rate: Rate, task: Task) -> int:
    each = convert_each(rate.minutes_each, task.kind, rate.organisation.unit_system, units_of_task(task))
    return minutes_on_site(task.count, each, rate.minutes_once, task.people)


def is_estimate(rate: Rate) -> bool:
    """Whether it is still what the tool came with."""
    standard = standard_rate(WorkKind(rate.kind), UnitSystem(rate.organisation.unit_system))
    return (rate.minutes_each, rate.minutes_once) == (standard.each, standard.once)


def spreads_of(*, organisation: Organisation) -> dict[str, Spread]:
    """By kind, person-minutes a unit of all days at a task whose hours are approved."""
    records: dict[str, list[tuple[Decimal, int]]] = defaultdict(list)
    for kind, minutes, done in learned_of(organisation=organisation):
        records[kind].append((minutes, done))
    spreads = {kind: spread_of(work) for kind, work in records.items()}
    return {kind: spread for kind, spread in spreads.items() if spread}


def work_of(*, house: House) -> HouseWork | None:
    return HouseWork.objects.filter(house=house).select_related("template").first()


def work_for(*, house: House) -> HouseWork:
    """As stored; else, not stored, by the organisation's first template where it has one."""
    first = WorkTemplate.objects.of(house.organisation).order_by("pk").first()
    return work_of(house=house) or HouseWork(organisation=house.organisation, house=house, template=first)


def tasks_of(*, house: House) -> QuerySet[Task]:
    return Task.objects.filter(house=house).select_related("crew").order_by("position", "pk")


def afters_of(*, organisation: Organisation) -> list[tuple[int, int, int]]:
    """(key of a task, key of the task it waits for, minutes of real time between) by the template of each house.

    A step that has no task (the house has none of it) is passed over: what waited for it waits for what it waited for.
    Three queries, however many houses there are.
    """
    waits: dict[int, list[Wait]] = defaultdict(list)
    rows = StepAfter.objects.filter(step__template__organisation=organisation).order_by("pk")
    for template, *wait in rows.values_list("step__template", "step__kind", "after__kind", "lag_minutes"):
        waits[template].append(Wait(*wait))
    templates = dict(HouseWork.objects.of(organisation).values_list("house", "template"))
    tasks: dict[int, dict[str, int]] = defaultdict(dict)
    for pk, house, kind in Task.objects.of(organisation).order_by("pk").values_list("pk", "house", "kind"):
        tasks[house][kind] = pk
    left: dict[tuple[int, frozenset[str]], tuple[Wait, ...]] = {}
    pairs = []
    for house, by_kind in tasks.items():
        template = templates.get(house)
        if template is None:
            continue
        key = (template, frozenset(by_kind))
        if key not in left:
            left[key] = without(waits[template], set(Kind.values) - key[1])
        pairs += [(by_kind[wait.step], by_kind[wait.after], wait.lag) for wait in left[key]]
    return pairs


def releases_of(*, organisation: Organisation, houses: Iterable[House]) -> Releases:
    """By the key of the house and the kind of work, the day from which everything that it uses is on site; None: it
    waits for nothing. As few queries for many houses as for one.

    By the accepted plan that builds the house: the latest day on which an order line that holds something of it is due
    (as promised, else as ordered for and as late as the plan said). What is held in the yard is there. What is
    still to find, and a house that no accepted plan builds, is there on the day the house needs its materials.
    """
    held = reservations_of(organisation=organisation).filter(order_line__isnull=False)
    return _releases(organisation, list(houses), held)


def releases_of_house(*, house: House) -> dict[str, date | None]:
    """``releases_of`` one house, by kind."""
    held = reservations_for_house(house=house).filter(order_line__isnull=False)
    return {kind: day for (_, kind), day in _releases(house.organisation, [house], held).items()}


def _releases(organisation: Organisation, houses: list[House], held: QuerySet[Reservation]) -> Releases:
    planned = accepted_slugs(organisation=organisation)
    days: dict[tuple[int, str], date] = {}

    def there(house: int, purpose: str, day: date) -> None:
        days[house, purpose] = max(day, days.get((house, purpose), day))

    for row in held:
        for house, purpose in {(row.house_id, row.purpose), *((p.house_id, p.purpose) for p in row.pieces.all())}:
            there(house, purpose, row.order_line.due_on)
    for _, house, row in still_to_find(organisation=organisation):
        there(house.pk, row.purpose, house.need_date)
    own = own_steps_of(houses=houses)
    releases: Releases = {}
    for house in houses:
        for kind in WorkKind:
            if house.slug in planned:
                found = [days[house.pk, purpose] for purpose in USES[kind] if (house.pk, purpose) in days]
                releases[house.pk, kind.value] = max(found, default=None)
            else:
                used = USES[kind] - OWN_PURPOSES or (house.pk, kind.value) in own
                releases[house.pk, kind.value] = house.need_date if used else None
    return releases
