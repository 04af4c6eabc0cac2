"""Which tasks do not fit where they are put, sentence by sentence; every place is put by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.utils import timezone

from farmbuild.crew.models import DayOff, Kind, Person, Task
from farmbuild.crew.schedule.misfits import Place, misfits_of
from farmbuild.crew.schedule.problem import live_tasks
from farmbuild.hoops.benders.models import Bender
from tests.crew.schedule.test_services import a_season
from tests.factories import BenderBookingFactory, CrewFactory, HouseFactory, MemberFactory, PersonFactory

pytestmark = pytest.mark.django_db
START = datetime(2027, 5, 3, 5, 15, tzinfo=UTC)


def mon(hours: float, day: int = 3) -> datetime:
    return datetime(2027, 5, day, tzinfo=UTC) + timedelta(hours=hours)


class Yard:
    """Three tasks of one house: posts of 4 h, a bend of 6 h on the bender, setting of 2 h, an hour after the bend."""

    def __init__(self, organisation) -> None:
        self.organisation = organisation
        self.crew, self.bender, self.house, (self.posts, self.bend, self.setting) = a_season(organisation)
        self.crew.name = "South"
        self.crew.save()
        self.other = CrewFactory(organisation=organisation, week=self.crew.week, name="North")
        PersonFactory.create_batch(2, crew=self.other)

    def places(self) -> dict[Task, Place]:
        """All that fits: the two crews side by side on Monday, setting on Tuesday."""
        return {
            self.posts: Place(self.other.pk, None, mon(7), mon(11)),
            self.bend: Place(self.crew.pk, self.bender.pk, mon(8), mon(14)),
            self.setting: Place(self.crew.pk, None, mon(7, 4), mon(9, 4)),
        }

    def told(self, now=START, **changed) -> dict[Task, list[str]]:
        """``posts=Place(...)``: put there instead; None: nowhere."""
        places = self.places() | {getattr(self, name): place for name, place in changed.items()}
        tasks = list(live_tasks(organisation=self.organisation))
        found = misfits_of(
            organisation=self.organisation,
            tasks=tasks,
            places={task.pk: place for task, place in places.items() if place},
            start=START,
            now=now,
        )
        return {task: found[task.pk] for task in tasks if task.pk in found}


@pytest.fixture
def yard(organisation):
    return Yard(organisation)


def test_what_fits_is_not_told(yard):
    assert yard.told() == {}
    assert yard.told(posts=None, bend=None, setting=None) == {}


def test_what_stood_before_the_schedule_and_is_not_begun_is_planned_anew(yard):
    assert yard.told(posts=Place(yard.other.pk, None, mon(5), mon(9))) == {
        yard.setting: ["is placed and what it waits for, “Ground posts” of " + f"{yard.house}, is not."]
    }


def test_work_that_was_to_be_done_by_now(yard):
    said = "it was to be done by Monday 3 May at 11:00 and is not begun."
    assert yard.told(now=mon(11)) == {}
    assert yard.told(now=mon(11) + timedelta(minutes=1)) == {yard.posts: [said]}
    Task.objects.filter(pk=yard.posts.pk).update(
        state=Task.State.STARTED, starts_at=mon(7), ends_at=mon(11), crew=yard.other
    )
    assert yard.told(now=mon(12))[yard.posts] == [said.replace("begun", "done")]
    Task.objects.filter(pk=yard.posts.pk).update(state=Task.State.DONE)
    assert yard.told(now=mon(12)) == {}


def test_a_crew_that_may_not_do_it_any_more(yard):
    """A whole sentence and nothing of how long it takes; the crew of one may not either."""
    Person.objects.filter(pk=yard.other.people.first().pk).update(archived_at=timezone.now())
    assert yard.told() == {yard.posts: ["North may not do it any more: too few people, or the skill is missing."]}
    yard.other.people.update(archived_at=timezone.now())
    yard.crew.people.update(archived_at=timezone.now())
    assert set(yard.told()[yard.posts]) == {"No crew has 2 people. Put more people into one crew."}


def test_a_bender_that_does_not_bend_its_hoops_any_more(yard):
    Bender.objects.update(rated_radius=1)
    Bender.objects.create(
        organisation=yard.organisation,
        name="New",
        slug="new",
        rated_radius=yard.house.recipe.radius,
        rated_span=yard.house.post_span,
    )
    assert yard.told() == {yard.bend: ["Rail bender does not bend its hoops any more."]}


@pytest.mark.parametrize(("starts", "at"), [(7, "07:00"), (7.5, "07:30")])
def test_too_few_people_from_when_on(yard, starts, at):
    DayOff.objects.create(
        organisation=yard.organisation, person=yard.other.people.first(), first=date(2027, 5, 3), last=date(2027, 5, 3)
    )
    assert yard.told(posts=Place(yard.other.pk, None, mon(starts), mon(starts + 4))) == {
        yard.posts: [f"North has 1 person on Monday 3 May at {at}, and it takes 2."]
    }


def test_people_are_short_from_the_middle_of_the_work_on(yard):
    """Posts go on from 14:00 to 15:00, and on Tuesday from 7:00 to 10:00, when one of their three people is off."""
    PersonFactory(crew=yard.other)
    Task.objects.filter(pk=yard.posts.pk).update(people=3)
    DayOff.objects.create(
        organisation=yard.organisation, person=yard.other.people.first(), first=date(2027, 5, 4), last=date(2027, 5, 4)
    )
    told = yard.told(posts=Place(yard.other.pk, None, mon(14), mon(10, 4)), setting=None)
    assert told == {yard.posts: ["North has 2 people on Tuesday 4 May at 07:00, and it takes 3."]}


@pytest.mark.parametrize(
    ("first", "last", "at"),
    [(3, 3, "Monday 3 May at 08:00"), (4, 4, "Tuesday 4 May at 00:00"), (4, 9, "Tuesday 4 May at 00:00")],
)
def test_a_bender_that_is_away_while_it_is_used(yard, first, last, at):
    BenderBookingFactory(
        bender=yard.bender,
        member=MemberFactory(organisation=yard.organisation),
        first=date(2027, 5, first),
        last=date(2027, 5, last),
    )
    told = yard.told(bend=Place(yard.crew.pk, yard.bender.pk, mon(8), mon(7, 4)), setting=None)
    assert told[yard.bend][0] == f"Rail bender is away on {at}."


def test_a_bender_wanted_twice_hurts_those_who_want_it_then_and_nobody_else(yard):
    twin = HouseFactory(site=yard.house.site, recipe=yard.house.recipe, need_date=yard.house.need_date)
    late = HouseFactory(site=yard.house.site, recipe=yard.house.recipe, need_date=yard.house.need_date)
    given = {"organisation": yard.organisation, "kind": Kind.BEND, "people": 2}
    same = Task.objects.create(house=twin, minutes=360, **given)
    after = Task.objects.create(house=late, minutes=60, **given)
    yard.places = lambda: (
        Yard.places(yard)
        | {
            yard.posts: None,
            yard.setting: None,
            same: Place(yard.other.pk, yard.bender.pk, mon(9), mon(15)),
            after: Place(yard.crew.pk, yard.bender.pk, mon(7, 4), mon(8, 4)),
        }
    )
    words = ["Rail bender is wanted for two tasks at once, on Monday 3 May at 09:00."]
    assert yard.told() == {yard.bend: words, same: words}
    Task.objects.filter(pk=same.pk).update(
        fixed=True, crew=yard.other, bender=yard.bender, starts_at=mon(9), ends_at=mon(15)
    )
    assert yard.told() == {yard.bend: words}


def test_what_waits_is_told_with_what_it_waits_for(yard):
    """The bend ends at 14:00 and an hour has to go, so setting may start at 15:00 of Monday: not at 14:45."""
    name = f"“Bend the batch” of {yard.house}"
    early = Place(yard.other.pk, None, mon(14.75), mon(8.75, 4))
    assert yard.told(setting=early) == {yard.setting: [f"starts before {name} has ended and 1 h have gone."]}
    assert yard.told(bend=None) == {yard.setting: [f"is placed and what it waits for, {name}, is not."]}


def test_what_is_fixed_stays_whatever_it_should_have_waited_for(yard):
    Task.objects.filter(pk=yard.setting.pk).update(fixed=True, crew=yard.crew, starts_at=mon(7, 4), ends_at=mon(9, 4))
    assert yard.told(posts=Place(yard.other.pk, None, mon(7, 5), mon(11, 5))) == {}


def test_a_task_that_takes_longer_than_its_place(yard):
    Task.objects.filter(pk=yard.posts.pk).update(minutes=300)
    assert yard.told() == {yard.posts: ["has 4 h of work and takes 5 h."]}
