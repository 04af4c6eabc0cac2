"""A schedule is worked out from crews, benders and tasks, and published once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, time, timedelta
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.common.long_work import try_again
from farmbuild.crew import bridge
from farmbuild.crew.models import (
    BenderBooking,
    HouseWork,
    Kind,
    Member,
    Person,
    Schedule,
    StepAfter,
    Task,
    WorkTemplate,
)
from farmbuild.crew.schedule import services, working
from farmbuild.hoops.benders.models import Bender
from farmbuild.planning.scheduling.verify import faults
from tests.factories import (
    CrewFactory,
    HouseFactory,
    MembershipFactory,
    PersonFactory,
    SiteFactory,
    SkillFactory,
    WorkWeekFactory,
)

pytestmark = pytest.mark.django_db
#: A Monday, before work.
NOW = datetime(2027, 5, 3, 5, 3, tzinfo=UTC)
EVERY_DAY = [(day, time(7), time(15)) for day in range(5)]


def a_season(organisation, *, people=2):
    """One house: posts, then the bend on a bender, then setting with an hour between; a crew of two at work 7 to 15."""
    week = WorkWeekFactory(organisation=organisation, hours=EVERY_DAY)
    crew = CrewFactory(organisation=organisation, week=week)
    for _ in range(people):
        PersonFactory(crew=crew)
    site = SiteFactory(organisation=organisation)
    house = HouseFactory(site=site, organisation=organisation, need_date=date(2027, 5, 3))
    bender = Bender.objects.create(
        organisation=organisation,
        name="Rail bender",
        slug="rail-bender",
        rated_radius=house.recipe.radius,
        rated_span=house.post_span,
    )
    template = WorkTemplate.objects.create(organisation=organisation, name="Plain", slug="plain")
    steps = [
        template.steps.create(position=n, kind=kind, people=2)
        for n, kind in enumerate((Kind.POSTS, Kind.BEND, Kind.SET))
    ]
    StepAfter.objects.create(step=steps[2], after=steps[0])
    StepAfter.objects.create(step=steps[2], after=steps[1], lag_minutes=60)
    HouseWork.objects.create(organisation=organisation, house=house, template=template, due=date(2027, 5, 4))
    tasks = [
        Task.objects.create(
            organisation=organisation, house=house, kind=step.kind, position=step.position, people=2, minutes=minutes
        )
        for step, minutes in zip(steps, (240, 360, 120), strict=True)
    ]
    return crew, bender, house, tasks


def worked(organisation, user, now=NOW) -> Schedule:
    schedule = services.create_schedule(organisation=organisation, user=user, now=now)
    working.work_out_schedule(schedule.pk)
    schedule.refresh_from_db()
    assert schedule.state == Schedule.State.READY, schedule.problem
    tasks, resources = bridge.work_from(schedule.inputs["work"])
    assert not faults(tasks, resources, plan_in(schedule, tasks))
    return schedule


def plan_in(schedule, tasks) -> bridge.WorkPlan:
    """The stored result as the planner's, for the checker."""
    result, jobs = schedule.result, {task.ref: task.job for task in tasks}

    def slot(moment):
        return (datetime.fromisoformat(moment) - schedule.starts_at) // timedelta(minutes=15)

    places = []
    for place in result["placed"]:
        ref = str(place["task"])
        way = schedule.inputs["ways"][ref].index([place["crew"], place["bender"]])
        places.append(bridge.Placed(ref, slot(place["starts_at"]), slot(place["ends_at"]), way))
    assert {place.task for place in places} <= set(jobs)
    return bridge.WorkPlan(
        placed=tuple(places),
        makespan=result["makespan"],
        bound=result["bound"],
        optimal=result["optimal"],
        late=tuple(str(late["house"]) for late in result["late"]),
        late_bound=result["late_bound"],
        moved=tuple(map(str, result["moved"])),
        unplaced=tuple((str(pk), ()) for pk, _ in result["unplaced"]),
        broken=tuple((str(one), str(other)) for one, other in result["broken"]),
    )


def published(organisation, schedule) -> int:
    return services.publish_schedule(organisation=organisation, user=None, schedule=schedule)


def test_posts_that_were_begun_before_sawing_was_a_step_stay(organisation, user):
    """Its task comes later than theirs: it is planned, they stay where they are, and the pair is told of."""
    _, _, house, tasks = a_season(organisation)
    template = WorkTemplate.objects.get()
    saw = template.steps.create(position=0, kind=Kind.SAW, people=1)
    StepAfter.objects.create(step=template.steps.get(kind=Kind.POSTS), after=saw)
    Task.objects.filter(pk=tasks[0].pk).update(state=Task.State.STARTED)
    task = Task.objects.create(organisation=organisation, house=house, kind=Kind.SAW, people=1, minutes=120)
    schedule = worked(organisation, user)
    assert schedule.result["unplaced"] == []
    assert {place["task"] for place in schedule.result["placed"]} == {task.pk, *(row.pk for row in tasks)}
    assert schedule.result["broken"] == [[task.pk, tasks[0].pk]]


def test_a_house_is_planned_by_hand_worked_hours(organisation, user):
    """240 + 360 minutes for the one crew before setting: 10 hours, then 2; from 7:00 Monday of 8 hours a day that
    ends at 11:00 on Tuesday at the soonest, the bend and its hour of waiting coming first."""
    crew, bender, _, _tasks = a_season(organisation)
    schedule = worked(organisation, user)
    assert schedule.starts_at == datetime(2027, 5, 3, 5, 15, tzinfo=UTC)
    assert datetime.fromisoformat(schedule.result["ends_at"]) == datetime(2027, 5, 4, 11, 0, tzinfo=UTC)
    assert schedule.result["optimal"] and schedule.result["late"] == [] and schedule.result["unplaced"] == []
    assert published(organisation, schedule) == 3
    posts, bend, setting = Task.objects.order_by("position")
    assert {posts.crew, bend.crew, setting.crew} == {crew}
    assert (posts.bender, bend.bender) == (None, bender)
    assert setting.starts_at >= bend.ends_at + timedelta(hours=1)
    assert setting.starts_at >= posts.ends_at
    assert setting.ends_at == datetime(2027, 5, 4, 11, 0, tzinfo=UTC)


def test_late_houses_are_told_with_their_days(organisation, user):
    _, _, house, _ = a_season(organisation)
    HouseWork.objects.update(due=date(2027, 5, 3))
    schedule = worked(organisation, user)
    assert schedule.result["late"] == [{"house": house.pk, "days": 1}]
    assert schedule.result["late_bound"] == 1


def test_what_has_no_crew_skill_or_bender_is_listed_with_the_reason(organisation, user):
    _, bender, _, tasks = a_season(organisation)
    skill = SkillFactory(organisation=organisation, name="Bending")
    WorkTemplate.objects.get().steps.filter(kind=Kind.BEND).update(skill=skill)
    why = dict(worked(organisation, user).result["unplaced"])
    assert "skill “Bending”" in why[tasks[1].pk]
    assert why[tasks[2].pk] == "It waits for “Bend the batch” of the same house, which cannot be placed."
    PersonFactory(crew=CrewFactory(organisation=organisation), skills=[skill])
    assert "skill “Bending”" in dict(worked(organisation, user).result["unplaced"])[tasks[1].pk]
    skill.people.add(*Person.objects.of(organisation))
    assert worked(organisation, user).result["unplaced"] == []
    bender.archived_at = NOW
    bender.save()
    assert "makes the radius" in dict(worked(organisation, user).result["unplaced"])[tasks[1].pk]
    Task.objects.filter(pk=tasks[0].pk).update(people=9)
    assert "No crew has 9 people" in dict(worked(organisation, user).result["unplaced"])[tasks[0].pk]


def test_a_lent_bender_is_not_used_meanwhile(organisation, user):
    _, bender, _, tasks = a_season(organisation)
    member = Member.objects.create(organisation=organisation, name="Next farm", slug="next-farm")
    BenderBooking.objects.create(
        organisation=organisation, bender=bender, member=member, first=date(2027, 5, 1), last=date(2027, 5, 4)
    )
    published(organisation, worked(organisation, user))
    tasks[1].refresh_from_db()
    assert tasks[1].starts_at == datetime(2027, 5, 5, 7, 0, tzinfo=UTC)


def test_started_done_and_fixed_tasks_stay_and_little_moves(organisation, user):
    _, _, _, tasks = a_season(organisation)
    published(organisation, worked(organisation, user))
    before = {task.pk: (task.starts_at, task.ends_at) for task in Task.objects.all()}
    again = worked(organisation, user)
    assert again.result["moved"] == []
    assert published(organisation, again) == 0
    services.set_fixed(organisation=organisation, user=None, task=tasks[2], fixed=True)
    Task.objects.filter(pk=tasks[0].pk).update(state=Task.State.DONE)
    Task.objects.filter(pk=tasks[1].pk).update(state=Task.State.STARTED)
    later = worked(organisation, user, now=NOW + timedelta(hours=4))
    assert published(organisation, later) == 0
    assert {task.pk: (task.starts_at, task.ends_at) for task in Task.objects.all()} == before


def test_it_is_not_published_after_tasks_changed_or_when_another_is(organisation, user):
    _, _, _, tasks = a_season(organisation)
    old, new = worked(organisation, user), worked(organisation, user)
    Task.objects.filter(pk=tasks[0].pk).update(minutes=300)
    with pytest.raises(ValidationError, match="1 task no longer fits"):
        published(organisation, new)
    Task.objects.filter(pk=tasks[0].pk).update(minutes=240)
    published(organisation, new)
    with pytest.raises(ValidationError, match=f"Schedule {new.number} was published since"):
        published(organisation, old)
    with pytest.raises(ValidationError, match="published already"):
        published(organisation, new)


def test_without_work_nothing_is_planned(organisation, user):
    with pytest.raises(ValidationError, match="no work to plan"):
        services.create_schedule(organisation=organisation, user=user, now=NOW)


def test_a_task_without_a_place_is_not_fixed(organisation, user):
    _, _, _, tasks = a_season(organisation)
    with pytest.raises(ValidationError, match="no place yet"):
        services.set_fixed(organisation=organisation, user=None, task=tasks[0], fixed=True)


def test_a_fault_stops_it_with_a_sentence(organisation, user, monkeypatch):
    a_season(organisation)
    schedule = services.create_schedule(organisation=organisation, user=user, now=NOW)
    monkeypatch.setattr(bridge, "work_out", lambda *args, **kwargs: 1 / 0)
    working.work_out_schedule(schedule.pk)
    schedule.refresh_from_db()
    assert (schedule.state, schedule.problem) == (Schedule.State.FAILED, working.UNEXPECTED)
    monkeypatch.undo()
    try_again(schedule)
    working.work_out_schedule(schedule.pk)
    schedule.refresh_from_db()
    assert schedule.state == Schedule.State.READY


def at_once(work, threads=4):
    start = Barrier(threads, timeout=30)

    def alone(n):
        try:
            start.wait()
            return work(n)
        finally:
            connection.close()

    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(alone, range(threads)))


@pytest.mark.django_db(transaction=True)
def test_two_who_publish_at_once_publish_one():
    member = MembershipFactory()
    organisation = member.organisation
    a_season(organisation)
    schedules = [worked(organisation, member.user) for _ in range(2)]

    def publish(n):
        try:
            published(organisation, schedules[n % 2])
            return schedules[n % 2].number
        except ValidationError as error:
            return error.message

    told = at_once(publish)
    numbers = [one for one in told if isinstance(one, int)]
    stored = Schedule.objects.filter(published_at__isnull=False).values_list("number", flat=True)
    assert len(numbers) == 1 and list(stored) == numbers
    assert all("was published since" in one or "already" in one for one in told if isinstance(one, str))


@pytest.mark.django_db(transaction=True)
def test_schedules_asked_at_once_have_numbers_of_their_own():
    member = MembershipFactory()
    a_season(member.organisation)
    asked = at_once(
        lambda _: services.create_schedule(organisation=member.organisation, user=member.user, now=NOW).number
    )
    assert sorted(asked) == [1, 2, 3, 4]
