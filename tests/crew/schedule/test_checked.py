"""A schedule that breaks a rule is never stored as ready, whatever the search says of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from django.urls import reverse

from farmbuild.crew import bridge
from farmbuild.crew.models import BenderBooking, HouseWork, Member, Schedule, Task
from farmbuild.crew.schedule import services, working
from tests.crew.schedule.test_services import NOW, a_season
from tests.factories import CrewFactory, HouseFactory, PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def spoilt(organisation, user, monkeypatch):
    """Works a schedule out with a search whose plan is changed by ``spoil(places, tasks)`` before it is given back."""

    def work(spoil) -> Schedule:
        search = bridge.work_out

        def broken(tasks, resources, **kwargs):
            plan = search(tasks, resources, **kwargs)
            by_kind = {Task.objects.get(pk=place.task).kind: place for place in plan.placed}
            places = tuple(spoil(by_kind).values())
            ends = max(place.end for place in places)
            due = {task.ref: task.due for task in tasks}
            jobs = {task.ref: task.job for task in tasks}
            late = tuple({jobs[p.task] for p in places if due[p.task] is not None and p.end > due[p.task]})
            return replace(plan, placed=places, makespan=ends, bound=0, late=late, late_bound=0)

        schedule = services.create_schedule(organisation=organisation, user=user, now=NOW)
        monkeypatch.setattr(bridge, "work_out", broken)
        working.work_out_schedule(schedule.pk)
        monkeypatch.undo()
        schedule.refresh_from_db()
        return schedule

    return work


def moved(place, start):
    return replace(place, start=start, end=start + place.end - place.start)


def refused(schedule: Schedule) -> str:
    assert (schedule.state, schedule.result) == (Schedule.State.FAILED, None)
    assert schedule.problem.startswith(working.BROKEN)
    return schedule.problem


def test_the_search_itself_is_not_stopped(organisation, spoilt):
    a_season(organisation)
    assert spoilt(lambda places: places).state == Schedule.State.READY


def test_a_crew_in_two_places(organisation, spoilt, signed_in):
    _, _, house, _ = a_season(organisation)
    problem = refused(spoilt(lambda p: p | {"posts": moved(p["posts"], p["bend"].start)}))
    assert "cannot be in time for" in problem and f"of {house}" in problem
    assert "task-" not in problem and "slot" not in problem
    page = signed_in.get(reverse("crew:schedule", args=[1])).content.decode()
    assert "cannot be in time for" in page and "Publish" not in page
    assert signed_in.post(reverse("crew:schedule-publish", args=[1])).status_code == 302
    assert not Task.objects.exclude(starts_at=None).exists()


def test_a_bender_in_use_elsewhere(organisation, spoilt):
    """It is lent on Monday and Tuesday, and the bend is put on Monday at 7:00, 7 quarters after the start."""
    _, bender, house, _ = a_season(organisation)
    member = Member.objects.create(organisation=organisation, name="Next farm", slug="next-farm")
    BenderBooking.objects.create(
        organisation=organisation, bender=bender, member=member, first=date(2027, 5, 3), last=date(2027, 5, 4)
    )
    problem = refused(spoilt(lambda p: p | {"bend": moved(p["bend"], 7)}))
    assert f"“Bend the batch” of {house} starts or ends while someone or something that it needs is not" in problem


def test_two_houses_on_one_bender(organisation, spoilt, user):
    """A second crew and a second house, with the same bender at the same hour."""
    crew, bender, house, tasks = a_season(organisation)
    other = CrewFactory(organisation=organisation, week=crew.week)
    PersonFactory.create_batch(2, crew=other)
    twin = HouseFactory(organisation=organisation, site=house.site, recipe=house.recipe, need_date=date(2027, 5, 3))
    HouseWork.objects.create(organisation=organisation, house=twin, template=house.work.template)
    second = Task.objects.create(organisation=organisation, house=twin, kind="bend", position=1, people=2, minutes=360)

    schedule = services.create_schedule(organisation=organisation, user=user, now=NOW)
    ways = schedule.inputs["ways"]
    search, stored = bridge.work_out, {}

    def broken(given, resources, **kwargs):
        plan = search(given, resources, **kwargs)
        places = {place.task: place for place in plan.placed}
        first = places[str(tasks[1].pk)]
        pair = next(n for n, way in enumerate(ways[str(second.pk)]) if way != ways[str(tasks[1].pk)][first.way])
        places[str(second.pk)] = replace(first, task=str(second.pk), way=pair)
        stored["ends"] = max(place.end for place in places.values())
        return replace(plan, placed=tuple(places.values()), makespan=stored["ends"], bound=0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bridge, "work_out", broken)
        working.work_out_schedule(schedule.pk)
    schedule.refresh_from_db()
    assert f"{bender.name} is wanted for two tasks at once, on " in refused(schedule)


def test_before_its_materials_are_there(organisation, spoilt):
    _, _, house, _ = a_season(organisation)
    house.need_date = date(2027, 5, 5)
    house.save()
    problem = refused(spoilt(lambda p: p | {"posts": moved(p["posts"], 7)}))
    assert f"“Ground posts” of {house} starts on Monday 3 May at 07:00 and may not before Wednesday 5 May." in (problem)


def test_before_what_it_waits_for(organisation, spoilt):
    """Setting waits an hour after the bend; half of it is taken away."""
    _, _, house, _ = a_season(organisation)
    problem = refused(spoilt(lambda p: p | {"set": moved(p["set"], p["bend"].end + 2)}))
    assert f"“Set and spring in” of {house} starts before “Bend the batch” of {house} has ended and 1 h have gone." in (
        problem
    )


def test_every_task_is_told_of(organisation, spoilt):
    a_season(organisation)
    assert "is told of 0 times" in refused(spoilt(lambda p: {k: v for k, v in p.items() if k != "posts"}))
