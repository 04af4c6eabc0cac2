"""Whoever comes second at a bender, a task or a problem is told what the first did."""

from __future__ import annotations

from datetime import timedelta

import pytest

from farmbuild.crew import feeds
from farmbuild.crew.bookings import member_requests, photos, services
from farmbuild.crew.models import BenderBooking, BookingPhoto, CalendarFeed, Task
from farmbuild.crew.problems.pictures import Picture
from farmbuild.crew.problems.services import remove_photo, resolve
from farmbuild.crew.schedule.delays import set_not_before
from farmbuild.crew.schedule.lengths import set_own_length
from farmbuild.crew.steps.services import make_tasks
from farmbuild.hoops.batches.services import accept_trial
from farmbuild.orgs.clock import today_of
from tests.crew.daylist.test_ticks import a_day, press
from tests.crew.gate.test_gate import a_batch, a_house, trial
from tests.crew.problems.making import a_problem
from tests.crew.schedule.test_services import a_season, published, worked
from tests.factories import BenderBookingFactory, BenderFactory, BenderRequestFactory, MemberFactory
from tests.hoops.batches.making import TARGET, make_shop
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def days(organisation):
    today = today_of(organisation=organisation)
    return {"first": today, "last": today + timedelta(days=1)}


@pytest.fixture
def bender(organisation):
    return BenderFactory(organisation=organisation, name="West bender")


@pytest.fixture
def member(organisation):
    return MemberFactory(organisation=organisation, name="Alder Patch")


# Benders


def test_days_booked_meanwhile_are_refused_with_the_name(who, bender, member, days):
    said = comes_second(
        lambda: services.book(**who, bender=bender, member=member, **days),
        lambda: services.book(**who, bender=bender, **days),
    )
    assert said.startswith("Alder Patch has West bender") and said.endswith("Choose other days.")


def test_a_bender_comes_back_once(who, bender, member, days):
    booking = services.book(**who, bender=bender, member=member, **days)
    services.check_out(**who, booking=booking, condition="sound")

    def back(condition):
        return lambda: services.check_in(**who, booking=booking, condition=condition)

    assert "is not out on this booking: back" in comes_second(back("sound"), back("bent"))
    assert BenderBooking.objects.get().back_condition == "sound"


def test_a_request_is_withdrawn_or_booked_never_both(who, bender, member, days):
    asked = [BenderRequestFactory(member=member, earliest=days["first"], need_by=days["last"]) for _ in range(2)]

    def book(request):
        return lambda: services.book(**who, bender=bender, member=member, request=request, **days)

    def withdraw(request):
        return lambda: member_requests.withdraw_request(**who, request=request)

    assert "asks for it no more: withdrawn" in comes_second(withdraw(asked[0]), book(asked[0]))
    assert comes_second(book(asked[1]), withdraw(asked[1])) == "It is booked. Cancel the booking first."


def test_a_name_is_given_to_one_member(who):
    def save():
        member_requests.save_member(**who, data={"name": "Alder Patch"})

    assert comes_second(save, save) == "There is a member called Alder Patch already. Type another name."


def test_a_bender_has_one_calendar(who, bender):
    def make():
        return feeds.make_feed(**who, bender=bender)

    assert comes_second(make, make) == CalendarFeed.objects.get(revoked_at=None)


# Tasks


def test_what_two_press_at_once_adds_up(organisation):
    person, task = a_day(organisation)
    comes_second(lambda: press(person, task, "stop", done=3), lambda: press(person, task, "stop", done=4))
    task.refresh_from_db()
    assert task.done == 7


def test_work_begun_meanwhile_starts_no_later(who, organisation):
    person, task = a_day(organisation)
    said = comes_second(
        lambda: press(person, task, "start"),
        lambda: set_not_before(**who, task=task, day=today_of(organisation=organisation)),
    )
    assert said == "This task has begun, so it cannot start later. Say by when it is done."


def test_a_length_of_its_own_given_meanwhile_is_told(who, organisation):
    _, _, _, rows = a_season(organisation)

    def give(minutes):
        return lambda: set_own_length(**who, task=rows[0], minutes=minutes, seen=None)

    assert comes_second(give(90), give(120)).startswith("Someone else changed this meanwhile: it is 1 h 30 min now.")


def test_work_begun_meanwhile_stays_begun_when_tasks_are_made_anew(who, organisation):
    _, _, house, (posts, *_) = a_season(organisation)
    comes_second(lambda: press(None, posts, "start"), lambda: make_tasks(**who, house=house))
    posts.refresh_from_db()
    assert (posts.state, posts.minutes) == (Task.State.STARTED, 240)


def test_work_begun_meanwhile_is_not_put_elsewhere_by_a_schedule(organisation, user):
    _, _, _, (posts, *_) = a_season(organisation)
    schedule = worked(organisation, user)
    comes_second(lambda: press(None, posts, "start"), lambda: published(organisation, schedule))
    posts.refresh_from_db()
    assert (posts.state, posts.starts_at) == (Task.State.STARTED, None)


def test_of_two_published_at_once_the_second_sees_the_first(organisation, user):
    a_season(organisation)
    one, other = worked(organisation, user), worked(organisation, user)
    said = comes_second(lambda: published(organisation, one), lambda: published(organisation, other))
    assert said == f"Schedule {one.number} was published since this one was asked for. Work out again."


def test_of_two_trial_hoops_accepted_at_once_the_second_opens_the_gate(organisation, user):
    shop = make_shop(organisation, user)
    house = a_house(shop, "One")
    batches = [a_batch(shop, house) for _ in range(2)]
    hoops = []
    for batch in batches:
        batch.issue(2)
        hoops.append(batch.measure(TARGET))

    def accept(n):
        return lambda: accept_trial(**batches[n].on, trial=hoops[n])

    comes_second(accept(0), accept(1))
    assert trial(house).state == Task.State.DONE


# Photos of benders


def test_photos_of_a_bender_that_came_back_are_counted_and_removed_once(who, bender, member, monkeypatch):
    booking = BenderBookingFactory(bender=bender, member=member, state="back")
    monkeypatch.setattr(photos, "MAX_PHOTOS", 1)

    def add(data):
        picture = Picture(data=data, thumbnail=b"y", width=4, height=3)
        return lambda: photos.add_photos(**who, booking=booking, photos=[picture])

    assert isinstance(comes_second(add(b"one"), add(b"two")), str)
    photo = BookingPhoto.objects.get()

    def away():
        photos.remove_photo(**who, photo=photo, reason="another bender")

    assert comes_second(away, away) == "This photo is removed already."


# Problems


def test_a_problem_is_put_right_by_one_and_a_photo_taken_away_by_one(who, organisation):
    person, task = a_day(organisation)
    actual = a_problem(person, task, user=who["user"])
    photo = actual.photos.get()

    def right():
        resolve(**who, actual=actual, how="bent again")

    def away():
        remove_photo(**who, photo=photo, reason="another house")

    assert comes_second(right, right) == "This problem is corrected already. Load the page again to see how."
    assert comes_second(away, away) == "This photo is removed already."
