"""Who could build houses of a plan, as planning is given it: hours left, benders, and work that nobody made yet."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.crew import bridge
from farmbuild.crew.models import BenderBooking, HouseWork, Kind, Person, Task, WorkTemplate
from farmbuild.crew.schedule.builders import builders_for
from farmbuild.crew.steps.services import make_tasks
from farmbuild.hoops.benders.models import Bender
from farmbuild.planning.advice.builders import CrewTime
from farmbuild.sites.models import House
from tests.crew.schedule.test_problem import DAY, HOUR, START, TUESDAY, put
from tests.crew.schedule.test_services import a_season
from tests.factories import BenderBookingFactory, HouseFactory, MemberFactory, SkillFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def season(organisation):
    return a_season(organisation)


def given(organisation, *houses):
    return builders_for(organisation=organisation, houses=houses, start=START)


def by_kind(builders, house):
    return {task.ref.partition(":")[2]: task for task in builders.tasks if task.job == house.slug}


def test_own_work_is_free_and_due_at_the_end_of_its_day(organisation, season):
    """Due on Tuesday 4 May; materials lie in the yard, so that nothing waits for the day on which they are needed."""
    _, bender, house, _ = season
    builders = given(organisation, house)
    tasks = by_kind(builders, house)
    assert set(tasks) == {"posts", "bend", "set"}
    assert {task.due for task in tasks.values()} == {TUESDAY + DAY}
    assert {(task.release, task.fixed, task.published) for task in tasks.values()} == {(0, None, None)}
    assert set(tasks["set"].after) == {
        bridge.After(f"{house.slug}:posts", 0),
        bridge.After(f"{house.slug}:bend", HOUR),
    }
    (way,) = tasks["bend"].ways
    assert set(way.needs) == {bridge.Need("crew 1", 2), bridge.Need(f"bender {bender.slug}", 1)} and way.duration == 24
    assert builders.crews and builders.benders and builders.cannot == ()
    assert builders.days[date(2027, 5, 4)] == TUESDAY and builders.days[date(2027, 5, 3)] == 0
    assert CrewTime(builders).fits(frozenset({house.slug})).fits


def test_without_a_day_to_stand_by_it_is_the_day_of_its_materials_and_one_that_is_past_bounds_nothing(
    organisation, season
):
    _, _, house, _ = season
    HouseWork.objects.update(due=None)
    assert {task.due for task in given(organisation, house).tasks} == {TUESDAY}
    House.objects.update(need_date=date(2027, 5, 2))
    house.refresh_from_db()
    assert {task.due for task in given(organisation, house).tasks} == {None}


def test_published_work_of_other_houses_keeps_its_place_and_unpublished_holds_nobody(organisation, season):
    crew, bender, house, (posts, bend, _) = season
    other = HouseFactory(site=house.site, organisation=organisation, recipe=house.recipe, need_date=date(2027, 5, 3))
    put(posts, 2, 6, crew=crew)
    put(bend, -2, 3, crew=crew, bender=bender)
    held = {task.ref: task for task in given(organisation, other).tasks if task.job == house.slug}
    assert set(held) == {f"{house.slug}:posts", f"{house.slug}:bend"}
    place = held[f"{house.slug}:posts"].fixed
    assert (place.start, place.end) == (2 * HOUR, 6 * HOUR)
    # What is under way is held from now on.
    assert held[f"{house.slug}:bend"].fixed.start == 0
    assert {need.resource for need in held[f"{house.slug}:bend"].ways[0].needs} == {"crew 1", f"bender {bender.slug}"}
    put(posts, 2, 6, crew=crew, state=Task.State.DONE)
    assert f"{house.slug}:posts" not in {task.ref for task in given(organisation, other).tasks}


def test_of_a_house_that_may_be_built_only_what_is_begun_or_fixed_stays(organisation, season):
    crew, _, house, (posts, _, setting) = season
    put(posts, 0, 4, crew=crew, state=Task.State.STARTED)
    put(setting, 20, 24, crew=crew)
    tasks = by_kind(given(organisation, house), house)
    assert tasks["posts"].fixed and tasks["bend"].fixed is None and tasks["set"].fixed is None
    put(setting, 20, 24, crew=crew, fixed=True)
    assert by_kind(given(organisation, house), house)["set"].fixed


def test_a_house_without_tasks_has_those_that_would_be_made(organisation, season, user):
    _, _, first, _ = season
    house = HouseFactory(site=first.site, organisation=organisation, recipe=first.recipe, need_date=date(2027, 6, 1))
    supposed = by_kind(given(organisation, house), house)
    assert not Task.objects.filter(house=house).exists() and not HouseWork.objects.filter(house=house).exists()
    template = WorkTemplate.objects.get()
    HouseWork.objects.create(organisation=organisation, house=house, template=template)
    make_tasks(organisation=organisation, user=user, house=house)
    assert by_kind(given(organisation, house), house) == supposed


def test_without_steps_of_their_own_the_usual_ones_are_taken(organisation, season):
    _, _, first, _ = season
    house = HouseFactory(site=first.site, organisation=organisation, recipe=first.recipe, need_date=date(2027, 6, 1))
    Task.objects.all().delete()
    HouseWork.objects.all().delete()
    WorkTemplate.objects.all().delete()
    tasks = by_kind(given(organisation, house), house)
    assert {"mark", "trial", "bend", "join", "set"} <= set(tasks)
    assert {after.task for after in tasks["bend"].after} == {f"{house.slug}:trial"}
    assert not WorkTemplate.objects.exists()


def test_who_has_no_bender_or_nobody_with_the_skill_cannot_build_it(organisation, season):
    _, bender, house, _ = season
    Bender.objects.update(rated_radius=bender.rated_radius + 1)
    ((slug, why),) = given(organisation, house).cannot
    assert slug == house.slug and "None of your benders makes the radius" in why
    # Where no bender is written down at all none is looked for.
    Bender.objects.all().delete()
    builders = given(organisation, house)
    assert builders.cannot == () and not builders.benders
    WorkTemplate.objects.get().steps.filter(kind=Kind.SET).update(
        skill=SkillFactory(organisation=organisation, name="Springing")
    )
    ((_, why),) = given(organisation, house).cannot
    assert "has the skill “Springing”" in why
    Person.objects.all().delete()
    ((_, why),) = given(organisation, house).cannot
    assert "No crew has 2 people" in why


def test_days_of_a_member_at_a_bender_are_not_there(organisation, season):
    _, bender, house, _ = season
    member = MemberFactory(organisation=organisation)
    BenderBookingFactory(
        organisation=organisation, bender=bender, member=member, first=date(2027, 5, 4), last=date(2027, 5, 4)
    )
    (own,) = (one for one in given(organisation, house).resources.resources if not one.travels)
    assert own.windows[0].end == TUESDAY and own.windows[1].start == TUESDAY + DAY
    # Six hours of bending fit into Monday; with the bender away on both days nobody bends in time.
    assert CrewTime(given(organisation, house)).fits(frozenset({house.slug})).fits
    BenderBooking.objects.update(first=date(2027, 5, 3))
    assert not CrewTime(given(organisation, house)).fits(frozenset({house.slug})).fits


def test_no_key_of_a_row_is_in_it_and_other_organisations_are_not(organisation, season):
    _, _, house, _ = season
    a_season(HouseFactory().organisation)
    builders = given(organisation, house)
    names = [one.ref for one in builders.resources.resources]
    assert names == ["crew 1", "bender rail-bender"]
    assert {task.job for task in builders.tasks} == {house.slug}


def test_it_asks_no_more_for_more_houses(organisation, season):
    _, _, house, _ = season

    def asked(*houses: House) -> int:
        rows = list(House.objects.filter(pk__in=[one.pk for one in houses]).with_materials().order_by("slug"))
        with CaptureQueriesContext(
            connection,
        ) as queries:
            builders_for(organisation=organisation, houses=rows, start=datetime(2027, 5, 3, 5, 15, tzinfo=UTC))
        return len(queries)

    more = [
        HouseFactory(site=house.site, organisation=organisation, recipe=house.recipe, need_date=date(2027, 6, 1))
        for _ in range(6)
    ]
    assert asked(*more[:2]) >= asked(*more)
