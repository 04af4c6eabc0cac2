"""The invented season in the middle of its work: what fixtures/demo_work.json says has been done by today, entered day
by day through the services that people use."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from farmbuild.catalogue.selectors import materials_of
from farmbuild.crew.bookings.services import check_in, check_out
from farmbuild.crew.feeds import make_feed
from farmbuild.crew.hours.other_work import write_down
from farmbuild.crew.hours.selectors import runs_of
from farmbuild.crew.hours.services import approve, correct
from farmbuild.crew.models import BenderBooking, Task
from farmbuild.crew.people.selectors import crews_of, people_of, person_of
from farmbuild.crew.schedule.delays import set_end, set_not_before
from farmbuild.crew.schedule.selectors import tasks_of
from farmbuild.crew.schedule.services import create_schedule, publish_schedule
from farmbuild.crew.schedule.working import work_out_schedule
from farmbuild.crew.steps.selectors import afters_of
from farmbuild.crew.steps.services import plan_house, standard_template
from farmbuild.demo.bridge import read_length
from farmbuild.demo.building import START, STOP, Builders
from farmbuild.demo.costs import charge, enter_prices
from farmbuild.demo.diary import BACK, CrewTime, Diary, clock_at, hours_before
from farmbuild.demo.jobs import enter_jobs
from farmbuild.demo.lending import enter_booking, enter_members, enter_requests
from farmbuild.demo.orders import orders_by_hand, plan_orders
from farmbuild.demo.problems import enter_problem
from farmbuild.demo.quotes import enter_quote, enter_rates
from farmbuild.demo.services import PASSWORD, SCENARIO, Demo, Farm, enter_plan, load_demo, open_farm
from farmbuild.demo.together import enter_together
from farmbuild.demo.weather import enter_weather
from farmbuild.demo.work import BUILDING
from farmbuild.orgs.clock import zone_in_force
from farmbuild.orgs.models import Organisation
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.models import Plan
from farmbuild.plans.services import work_out_plan
from farmbuild.stock.counts.services import Counted, record_counts, record_find, start_count
from farmbuild.stock.ledger import lend_pieces
from farmbuild.stock.selectors import lots_of, places_of

WORK = settings.BASE_DIR / "fixtures" / "demo_work.json"
#: How much schedules of the demo are bettered, little; their pages say what is known of them then.
EFFORT = 0.1
#: So long before the end of the last working day was begun what is under way today.
BEGUN = timedelta(hours=2)
#: How much longer that takes, from when work goes on.
STILL = timedelta(minutes=75)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@transaction.atomic
def load_season() -> Demo:
    """Load the season as it stands today, whole or not at all; one that is there already stays as it is."""
    scenario = json.loads(SCENARIO.read_text(encoding="utf-8"))
    if Organisation.objects.filter(slug=scenario["organisation"]["slug"]).exists():
        return load_demo()
    rows = json.loads(WORK.read_text(encoding="utf-8"))
    zone = ZoneInfo(scenario["organisation"]["time_zone"])
    today = timezone.now().astimezone(zone).date()
    scenario = by_today(scenario, rows, today)
    with clock_at(datetime.combine(today + timedelta(days=rows["opened"]), time(9), zone)):
        farm = open_farm(scenario)
        enter_members(farm.organisation, farm.user, scenario["lending"], PASSWORD)
        enter_prices(farm.organisation, farm.user, rows["costs"], today + timedelta(days=rows["opened"]))
        enter_rates(farm.organisation, farm.user)
    with zone_in_force(farm.organisation):
        with clock_at(datetime.combine(today + timedelta(days=rows["as_of"]), time(9), zone)):
            plan = _planned(farm, scenario)
        _worked(farm, plan, scenario, rows, Diary(today, zone))
        given = (farm.organisation, farm.user)
        for row in rows["bookings"]:
            if row["first"] == 0:
                check_out(**_who(farm), booking=_booking(farm, row, today), condition=row["left"])
        enter_requests(*given, scenario["lending"])
        enter_weather(*given, farm.sites, scenario["weather"])
        make_feed(**_who(farm), person=person_of(organisation=farm.organisation, user=farm.user))
        _goes_on(farm, rows, today, zone)
        _publish(farm)
        enter_quote(*given, farm.houses[0])
    plan.refresh_from_db()
    return Demo(farm.organisation, farm.user, plan, fresh=True)


def by_today(scenario: Mapping[str, Any], rows: Mapping[str, Any], today: date) -> dict[str, Any]:
    """The season with all its days as far from ``today`` as ``rows`` says."""
    moved = today + timedelta(days=rows["as_of"]) - date.fromisoformat(scenario["as_of"])

    def day(found: re.Match[str]) -> str:
        return (date.fromisoformat(found[0]) + moved).isoformat()

    def at(days: int) -> str:
        return (today + timedelta(days=days)).isoformat()

    season: dict[str, Any] = json.loads(_DAY.sub(day, json.dumps(scenario)))
    there = rows["in_the_yard"]
    season["stock"] = [row | {"quantity": there.get(row["reference"], row["quantity"])} for row in season["stock"]]
    season["houses"] = [row | {"need_date": at(rows["needs"][row["name"]])} for row in season["houses"]]
    for crew in season["crew"]["crews"]:
        crew["people"] = [row | {"skills": rows["skills"][row["name"]]} for row in crew["people"]]
    season["crew"]["days_off"] = [
        row | {"first": at(row["first"]), "last": at(row["last"])} for row in rows["days_off"]
    ]
    return season


def _who(farm: Farm) -> dict[str, Any]:
    return {"organisation": farm.organisation, "user": farm.user}


def _planned(farm: Farm, scenario: dict[str, Any]) -> Plan:
    """The plan is accepted, and every house has its tasks."""
    plan = enter_plan(farm, scenario)
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    if plan.problem:
        raise ValueError(plan.problem)
    accept_plan(**_who(farm), plan=plan)
    template = standard_template(**_who(farm))
    for house in farm.houses:
        plan_house(**_who(farm), house=house, template=template, due=house.need_date + BUILDING)
    return plan


def _worked(farm: Farm, plan: Plan, scenario: dict[str, Any], rows: dict[str, Any], diary: Diary) -> None:
    """All that happened from then until the last working day before today."""
    plan_orders(diary, user=farm.user, plan=plan, rows=rows["orders"])
    orders_by_hand(diary, **_who(farm), rows=rows["by_hand"])
    enter_jobs(diary, **_who(farm), houses=farm.houses, rows=rows["jobs"])
    enter_together(diary, **_who(farm), rows=rows["together"])
    for row in rows["bookings"]:
        _lent(farm, diary, row)
    diary.on(-4, 12, lambda day: _lend_sticks(farm, rows["loan"], diary.today))
    houses = {house.name: house for house in farm.houses}
    builders = Builders(farm.organisation, farm.user, houses, diary, rows)
    crews = {crew.name: crew for crew in crews_of(organisation=farm.organisation)}
    hours = {name: hours_before(crews[name], today=diary.today, zone=diary.zone) for name in rows["crews"]}
    ends = min(spans[-1][1] for spans in hours.values())
    begun = ends - BEGUN
    for name, stints in rows["crews"].items():
        minutes = builders.minutes_of(stints)
        builders.build(name, stints, CrewTime(hours[name], minutes=minutes, until=begun))
    days = sorted({span[0].date() for span in hours["Film crew"]})
    diary.at(begun - timedelta(hours=1), partial(_look_at_hours, farm, rows, days[-2], begun.date()))
    diary.at(begun, partial(_publish_first, builders, diary.today))
    for row in rows["under_way"]:
        diary.at(begun, partial(_begin, builders, row, begun))
    [tried] = [row["house"] for row in rows["under_way"] if row["kind"] == "trial"]
    builders.try_hoops(tried, begun, ends)
    diary.at(
        begun + BEGUN / 2, partial(enter_problem, farm.organisation, farm.user, scenario["problem"] | rows["problem"])
    )
    [sighted] = [row["house"] for row in rows["under_way"] if row["kind"] == "sight"]
    diary.at(ends, partial(builders.fit, sighted))
    for row in rows["under_way"]:
        diary.at(ends, partial(_rest, builders, row, ends))
    diary.at(ends + timedelta(minutes=20), partial(_count, farm, rows["count"]))
    diary.play()


def _begin(builders: Builders, row: Mapping[str, Any], at: datetime) -> None:
    """By the crew that the published schedule gives it to."""
    task = builders.task(row["house"], row["kind"])
    builders.press(builders.first_of(task.crew), row["house"], row["kind"], START, at)


def _rest(builders: Builders, row: Mapping[str, Any], at: datetime) -> None:
    task = builders.task(row["house"], row["kind"])
    builders.press(builders.first_of(task.crew), row["house"], row["kind"], STOP, at, done=row["done"])


def _publish_first(builders: Builders, today: date) -> None:
    """Nothing but what is begun now starts before today, so that it has its place now."""
    now = {builders.task(row["house"], row["kind"]).pk for row in builders.rows["under_way"]}
    rows = tasks_of(organisation=builders.organisation).exclude(state=Task.State.DONE)
    left = {task.pk for task in rows} - now
    waits = {pk for pk, before, _ in afters_of(organisation=builders.organisation) if before in left}
    others = [task for task in rows if task.pk in left - waits]
    for task in others:
        set_not_before(**builders.who, task=task, day=today)
    _publish(builders)
    for task in others:
        set_not_before(**builders.who, task=task, day=None)


def _goes_on(farm: Farm, rows: Mapping[str, Any], today: date, zone: ZoneInfo) -> None:
    """What is under way takes some of the time in which its crew works next."""
    now, tasks = timezone.now(), tasks_of(organisation=farm.organisation)
    for row in rows["under_way"]:
        task = tasks.select_related("crew__week").get(house__name=row["house"], kind=row["kind"])
        hours = hours_before(task.crew, today=today + timedelta(days=BACK), zone=zone)
        begins, ends = next(span for span in hours if span[1] > now)
        set_end(**_who(farm), task=task, ends_at=min(max(begins, now) + STILL, ends))


def _publish(farm: Farm | Builders) -> None:
    schedule = create_schedule(organisation=farm.organisation, user=farm.user)
    work_out_schedule(schedule.pk, effort=EFFORT)
    publish_schedule(**_who(farm), schedule=schedule)


def _look_at_hours(farm: Farm, rows: Mapping[str, Any], before: date, until: date) -> None:
    """What was worked ``before`` the last day is approved, one run of it corrected; the last day waits."""
    row = rows["corrected"]
    runs = runs_of(organisation=farm.organisation)
    run = runs.filter(task__house__name=row["house"], task__kind=row["kind"]).order_by("-pk")[0]
    minutes = int(run.length.total_seconds()) // 60 - row["less"]
    correct(**_who(farm), actual=run, minutes=minutes, people=run.people, reason=row["reason"], seen=None)
    other = rows["other_work"]
    write_down(
        **_who(farm),
        house=next(house for house in farm.houses if house.name == other["house"]),
        what=other["what"],
        day=before,
        minutes=other["minutes"],
        people=other["people"],
        person=people_of(organisation=farm.organisation).get(name=other["person"]),
    )
    approve(**_who(farm), runs=[(run.pk, run.latest) for run in runs.filter(day__lt=until)])
    charge(farm.organisation, farm.user, rows["costs"])


def _booking(farm: Farm, row: Mapping[str, Any], today: date) -> BenderBooking:
    first = today + timedelta(days=row["first"])
    return BenderBooking.objects.of(farm.organisation).get(bender__slug=row["bender"], first=first)


def _lent(farm: Farm, diary: Diary, row: Mapping[str, Any]) -> None:
    """A booking is made; one that is over went out on its first day and came back on its last."""

    def at(days: int, hour: int, happened: Any) -> None:
        diary.at(datetime.combine(diary.today + timedelta(days=days), time(hour), diary.zone), happened)

    def booking() -> BenderBooking:
        return _booking(farm, row, diary.today)

    at(row["booked"], 10, lambda: enter_booking(farm.organisation, farm.user, row, ago=-row["booked"]))
    if "back" in row:
        at(row["first"], 8, lambda: check_out(**_who(farm), booking=booking(), condition=row["left"]))
        at(row["last"], 17, lambda: check_in(**_who(farm), booking=booking(), condition=row["back"]))


def _lend_sticks(farm: Farm, row: Mapping[str, Any], today: date) -> None:
    wanted = {"material__code": row["material"], "length": read_length(row["length"]), "offcut": False}
    lots = lots_of(organisation=farm.organisation).filter(**wanted).order_by("-pk")
    lot = next(lot for lot in lots if lot.free >= row["quantity"])
    back_on = today + timedelta(days=row["until"])
    lend_pieces(**_who(farm), lot=lot, quantity=row["quantity"], borrower=row["member"], back_on=back_on)


def _count(farm: Farm, row: Mapping[str, Any]) -> None:
    """A stock count that is under way: some lots are counted, and something is found."""
    places = {place.name: place for place in places_of(organisation=farm.organisation)}
    count = start_count(**_who(farm), places=[places[name] for name in row["places"]])
    lots = {lot.reference: lot for lot in lots_of(organisation=farm.organisation)}
    counted = [Counted(lots[name].pk, lots[name].on_hand + off) for name, off in row["off_by"].items()]
    record_counts(**_who(farm), count=count, counted=counted)
    found = row["found"]
    record_find(
        **_who(farm),
        count=count,
        place=places[found["place"]],
        material=materials_of(organisation=farm.organisation).get(code=found["material"]),
        length=read_length(found["length"]),
        offcut=True,
        quantity=found["quantity"],
        note=found["note"],
    )
