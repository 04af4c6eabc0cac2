"""The open work of an organisation as the planner is given it: quarters of an hour from the start, by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from farmbuild.crew import bridge
from farmbuild.crew.models import Actual, HouseWork, Kind, Person, Task, WorkTemplate
from farmbuild.crew.schedule import services
from farmbuild.crew.schedule.problem import DAYS_AHEAD, live_tasks, schedule_problem
from farmbuild.hoops.batches.services import create_batch, record_bent
from farmbuild.hoops.benders.models import Bender
from tests.crew.schedule.test_services import NOW, a_season, published, worked
from tests.factories import (
    FOOT,
    BenderBookingFactory,
    BenderFactory,
    CrewFactory,
    MaterialFactory,
    MemberFactory,
    PersonFactory,
    SkillFactory,
)
from tests.hoops.batches.making import TARGET, make_shop

pytestmark = pytest.mark.django_db
#: A Monday, 5:15.
START = datetime(2027, 5, 3, 5, 15, tzinfo=UTC)
HOUR = 4
DAY = 24 * HOUR
#: From the start to Tuesday, 0:00.
TUESDAY = 18 * HOUR + 3


@pytest.fixture
def season(organisation):
    return a_season(organisation)


def given(organisation, start=START):
    tasks = list(live_tasks(organisation=organisation))
    work = schedule_problem(organisation=organisation, tasks=tasks, start=start)
    planned, resources = bridge.work_from(work.packed)
    return work, {int(task.ref): task for task in planned}, {one.ref: one for one in resources.resources}


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def put(task, starts, ends, *, crew, state=Task.State.OPEN, fixed=False, bender=None):
    Task.objects.filter(pk=task.pk).update(
        crew=crew, bender=bender, starts_at=at(starts), ends_at=at(ends), state=state, fixed=fixed
    )


def test_houses_and_sites_that_are_archived_are_not_planned(organisation, season):
    _, _, house, tasks = season
    assert list(live_tasks(organisation=organisation)) == tasks
    for row in (house, house.site):
        row.archived_at = timezone.now()
        row.save()
        assert not live_tasks(organisation=organisation)
        row.archived_at = None
        row.save()
    assert len(live_tasks(organisation=organisation)) == 3


def test_the_house_is_due_at_the_end_of_its_day(organisation, season):
    """Due on Tuesday 4 May: up to Wednesday 0:00."""
    work, tasks, _ = given(organisation)
    assert {task.due for task in tasks.values()} == {TUESDAY + DAY}
    HouseWork.objects.update(due=date(2027, 5, 1))
    assert {task.due for task in given(organisation)[1].values()} == {0}
    HouseWork.objects.update(due=None)
    work, tasks, _ = given(organisation)
    assert {task.due for task in tasks.values()} == {None} and work.dues == {}


def test_a_task_starts_on_its_day_and_when_its_material_is_there(organisation, season):
    _, _, house, (posts, bend, setting) = season
    Task.objects.filter(pk=setting.pk).update(not_before=date(2027, 5, 5))
    house.need_date = date(2027, 5, 4)
    house.save()
    _, tasks, _ = given(organisation)
    assert tasks[posts.pk].release == tasks[bend.pk].release == TUESDAY
    assert tasks[setting.pk].release == TUESDAY + DAY
    Task.objects.filter(pk=setting.pk).update(not_before=date(2027, 5, 3))
    house.need_date = date(2027, 5, 6)
    house.save()
    assert given(organisation)[1][setting.pk].release == TUESDAY + 2 * DAY


def test_what_waits_for_open_work_and_for_work_that_is_done(organisation, season):
    """Setting comes an hour after the bend. The bend was stopped at 8:20: it may start at 9:30, the next quarter."""
    crew, _, _, (posts, bend, setting) = season
    house = bend.house
    house.need_date = date(2027, 5, 1)
    house.save()
    _, tasks, _ = given(organisation)
    assert set(tasks[setting.pk].after) == {
        bridge.After(str(posts.pk), 0),
        bridge.After(str(bend.pk), HOUR),
    }
    put(bend, 0, 1, crew=crew, state=Task.State.DONE)
    stopped = datetime(2027, 5, 3, 8, 20, tzinfo=UTC)
    for minutes in (-60, 0):
        Actual.objects.create(
            key=uuid4(),
            organisation=organisation,
            task=bend,
            stopped_at=stopped + timedelta(minutes=minutes),
            finished=not minutes,
        )
    _, tasks, _ = given(organisation)
    assert set(tasks) == {posts.pk, setting.pk}
    assert tasks[setting.pk].after == (bridge.After(str(posts.pk), 0),)
    assert tasks[setting.pk].release == 4 * HOUR + 1
    Actual.objects.all().delete()
    # By where it stood, until 6:15, and by nothing where it stood nowhere.
    assert given(organisation)[1][setting.pk].release == 2 * HOUR
    Task.objects.filter(pk=bend.pk).update(crew=None, starts_at=None, ends_at=None)
    assert given(organisation)[1][setting.pk].release == 0
    assert given(organisation, start=START + timedelta(days=1))[1][setting.pk].release == 0


def test_what_waits_for_a_bend_that_a_batch_counts_goes_by_its_last_hoop(organisation, season, user, monkeypatch):
    """Bent at 8:20, hours before the bend was to end; typed hours that came later move nothing."""
    crew, _, _, (_, bend, setting) = season
    shop = make_shop(organisation, user)
    put(bend, 0, 40, crew=crew)
    house = bend.house
    house.recipe, house.post_span, house.need_date = shop.batch.recipe, FOOT * 12, date(2027, 5, 1)
    house.save()
    data = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    given_batch = {"recipe": shop.batch.recipe, "bender": shop.batch.bender, "quantity": 3, "shares": {house: 3}}
    shop.batch = create_batch(organisation=organisation, user=user, data=data, **given_batch)
    Task.objects.filter(pk=bend.pk).update(count=2 * 14)
    shop.prove()
    shop.issue(4)
    monkeypatch.setattr(timezone, "now", lambda: datetime(2027, 5, 3, 8, 20, tzinfo=UTC))
    record_bent(**shop.on, hoops=2)
    assert Task.objects.get(pk=bend.pk).state == Task.State.DONE
    # An hour after 8:20, at the next quarter.
    assert given(organisation)[1][setting.pk].release == 4 * HOUR + 1
    Actual.objects.create(key=uuid4(), organisation=organisation, task=bend, stopped_at=at(30), minutes=60)
    assert given(organisation)[1][setting.pk].release == 4 * HOUR + 1


def test_what_is_begun_or_fixed_stays_and_what_is_published_is_kept_in_mind(organisation, season):
    crew, bender, _, (posts, bend, setting) = season
    put(posts, -1, 3, crew=crew, state=Task.State.STARTED)
    put(bend, 3, 9, crew=crew, bender=bender, fixed=True)
    put(setting, 10, 12, crew=crew)
    _, tasks, _ = given(organisation)
    assert (tasks[posts.pk].fixed.start, tasks[posts.pk].fixed.end) == (0, 3 * HOUR)
    assert (tasks[bend.pk].fixed.start, tasks[bend.pk].fixed.end) == (3 * HOUR, 9 * HOUR)
    assert tasks[setting.pk].fixed is None
    assert (tasks[setting.pk].published.start, tasks[setting.pk].published.end) == (10 * HOUR, 12 * HOUR)
    assert tasks[posts.pk].published is None and tasks[bend.pk].published.start == 3 * HOUR
    put(setting, 0, 2, crew=crew)
    assert given(organisation)[1][setting.pk].published.start == 0


def test_begun_work_that_is_over_by_the_schedule_takes_a_quarter_more(organisation, season):
    crew, _, _, (posts, *_) = season
    put(posts, -5, -1, crew=crew, state=Task.State.STARTED)
    assert (given(organisation)[1][posts.pk].fixed.start, given(organisation)[1][posts.pk].fixed.end) == (0, 1)
    Task.objects.filter(pk=posts.pk).update(crew=None, starts_at=None, ends_at=None)
    fixed = given(organisation)[1][posts.pk].fixed
    assert (fixed.start, fixed.end) == (0, 4 * HOUR)


@pytest.mark.parametrize(("ends", "stays"), [(0.25, True), (0, False)])
def test_a_fixed_task_stays_while_some_of_it_is_to_come(organisation, season, ends, stays):
    crew, _, _, (posts, *_) = season
    put(posts, -2, ends, crew=crew, fixed=True)
    assert (given(organisation)[1][posts.pk].fixed is not None) is stays


def test_a_fixed_task_that_ends_as_the_schedule_starts_is_published_anew(organisation, user, season):
    crew, _, _, (posts, *_) = season
    put(posts, -4, 0, crew=crew, fixed=True)
    assert published(organisation, worked(organisation, user)) == 3
    posts.refresh_from_db()
    assert posts.starts_at > START
    put(posts, -4, 0.25, crew=crew, fixed=True)
    published(organisation, worked(organisation, user))
    posts.refresh_from_db()
    assert (posts.starts_at, posts.ends_at) == (at(-4), at(0.25))


def test_crews_that_are_large_enough_and_have_the_skill(organisation, season):
    crew, bender, _, (posts, bend, setting) = season
    three = CrewFactory(organisation=organisation, week=crew.week)
    PersonFactory.create_batch(3, crew=three)
    PersonFactory(crew=CrewFactory(organisation=organisation, week=crew.week))
    Task.objects.filter(pk=setting.pk).update(people=3)
    skill = SkillFactory(organisation=organisation)
    WorkTemplate.objects.get().steps.filter(kind=Kind.POSTS).update(skill=skill)
    three.people.first().skills.add(skill)
    ways = given(organisation)[0].ways
    assert ways[str(posts.pk)] == [(three.pk, None)]
    assert ways[str(bend.pk)] == [(crew.pk, bender.pk), (three.pk, bender.pk)]
    assert ways[str(setting.pk)] == [(three.pk, None)]
    Person.objects.filter(skills=skill).update(archived_at=timezone.now())
    work = given(organisation)[0]
    assert work.ways[str(posts.pk)] == [] and "Nobody in a crew of 2 or more" in work.reasons[str(posts.pk)]


def test_benders_of_the_radius_that_fit_the_tube_and_the_recipes_own(organisation, season):
    _, bender, house, (_, bend, _) = season
    recipe = house.recipe

    def benders():
        return {one for _, one in given(organisation)[0].ways[str(bend.pk)]}

    other_tube = BenderFactory(organisation=organisation, rated_radius=recipe.radius)
    other_tube.tubes.add(MaterialFactory(organisation=organisation))
    fits = BenderFactory(organisation=organisation, rated_radius=recipe.radius)
    fits.tubes.add(recipe.tube)
    other = BenderFactory(organisation=organisation, rated_radius=recipe.radius + 1)
    assert benders() == {bender.pk, fits.pk}
    recipe.bender = other
    recipe.save()
    assert benders() == {bender.pk, fits.pk, other.pk}
    Bender.objects.exclude(pk=other.pk).update(archived_at=timezone.now())
    assert benders() == {other.pk}


def test_a_bender_is_there_but_for_the_days_on_which_members_have_it(organisation, season):
    _, bender, _, _ = season
    member = MemberFactory(organisation=organisation)
    whole = DAYS_AHEAD * DAY
    assert [(w.start, w.end) for w in given(organisation)[2][f"bender-{bender.pk}"].windows] == [(0, whole)]
    for first, last in ((1, 3), (5, 5), (6, 7)):
        BenderBookingFactory(bender=bender, member=member, first=date(2027, 5, first), last=date(2027, 5, last))
    BenderBookingFactory(bender=bender, member=None, first=date(2027, 5, 9), last=date(2027, 5, 9))
    windows = [(w.start, w.end, w.capacity) for w in given(organisation)[2][f"bender-{bender.pk}"].windows]
    assert windows == [(TUESDAY, TUESDAY + DAY, 1), (TUESDAY + 4 * DAY, whole, 1)]


def test_open_tasks_alone_were_somewhere_before(organisation, user, season):
    crew, _, _, (posts, bend, _) = season
    put(posts, 2, 6, crew=crew)
    put(bend, 6, 12, crew=crew, state=Task.State.STARTED)
    schedule = services.create_schedule(organisation=organisation, user=user, now=NOW)
    assert set(schedule.inputs["before"]) == {str(posts.pk)}
    assert schedule.inputs["before"][str(posts.pk)]["ends_at"] == at(6).isoformat()
