"""A wrong press is taken back by a row that names it; state, count and gate follow what counts then."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import DatabaseError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.actuals.selectors import at_it
from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.actuals.words import press_words
from farmbuild.crew.models import Actual, Kind, Task
from farmbuild.crew.problems.selectors import open_problems_of
from farmbuild.hoops.batches.services import record_bent, take_back_hoops
from farmbuild.orgs.models import Membership
from tests.crew.daylist.test_ticks import a_day, press
from tests.crew.gate.test_gate import a_batch, a_house, trial
from tests.factories import MembershipFactory, PersonFactory
from tests.hoops.batches.making import make_shop
from tests.reading import text_of
from tests.waiting import comes_second

pytestmark = pytest.mark.django_db


def back(user, actual, **more):
    return take_back(organisation=actual.organisation, user=user, actual=actual, **more)


def state_of(task):
    task.refresh_from_db()
    return task.state, task.done


@pytest.fixture
def worker(organisation):
    """Somebody who signs in and works in a crew."""
    return MembershipFactory(organisation=organisation, role=Membership.Role.CREW).user


def test_one_tap_on_done_closes_nothing_for_good(organisation, user):
    person, task = a_day(organisation)
    begun = timezone.now() - timedelta(hours=2)
    start = press(person, task, "start", begun)
    done = press(person, task, "done", user=user)
    assert state_of(task) == (Task.State.DONE, 40)
    row = back(user, done, reason=" wrong  button ")
    assert (row.reverses, row.by, row.reason, row.done) == (done, user, "wrong button", 0)
    assert state_of(task) == (Task.State.STARTED, 0)
    # The original stays, and the run goes on where it was.
    kept = list(task.actuals.select_related("reversed_by"))
    assert kept == [start, done, row] and kept[1].done == 40
    assert at_it(kept, person).own == start
    assert press(person, task, "stop", done=12).started_at == begun
    assert state_of(task) == (Task.State.STARTED, 12)


def test_presses_go_back_from_the_last_one_on(organisation, user):
    person, task = a_day(organisation)
    start = press(person, task, "start")
    stop = press(person, task, "stop", done=3)
    with pytest.raises(ValidationError, match="pressed after it"):
        back(user, start)
    back(user, stop)
    back(user, start)
    assert state_of(task) == (Task.State.OPEN, 0)
    for row in (start, stop, Actual.objects.filter(reverses=start).get()):
        with pytest.raises(ValidationError, match="already"):
            back(user, row)
    # Pressed again it is a new start.
    assert press(person, task, "start").pk not in (start.pk, stop.pk)


def test_what_another_pressed_after_it_does_not_hold_it(organisation, user):
    ann, task = a_day(organisation)
    ben = PersonFactory(crew=task.crew)
    first = press(ann, task, "stop", done=3)
    press(ben, task, "stop", done=4)
    back(user, first)
    assert state_of(task) == (Task.State.STARTED, 4)


def test_who_pressed_it_whose_it_is_and_who_plans_takes_it_back(organisation, user, worker):
    other = MembershipFactory(organisation=organisation, role=Membership.Role.CREW).user
    person, task = a_day(organisation)
    person.user = worker
    person.save()
    rows = [press(person, task, "stop", done=1, user=other) for _ in range(4)]
    stranger = MembershipFactory(organisation=organisation, role=Membership.Role.CREW).user
    elsewhere = MembershipFactory().user
    for refused in (stranger, elsewhere):
        with pytest.raises(PermissionDenied):
            back(refused, rows[3])
    Membership.objects.filter(user=user).update(role=Membership.Role.PLANNER)
    for allowed, row in zip((other, worker, user), rows[::-1], strict=False):
        back(allowed, row)
    assert state_of(task) == (Task.State.STARTED, 1)


def test_a_problem_that_was_said_stays_on_its_list(organisation, user):
    person, task = a_day(organisation)
    row = press(person, task, "stop", done=3, problem="Post leans")
    back(user, row)
    assert list(open_problems_of(organisation=organisation)) == [row]


def test_the_page_takes_back_and_says_so(signed_in, organisation):
    person, task = a_day(organisation)
    row = press(person, task, "stop", done=3)
    address = f"/crew/day/?person={person.slug}"
    assert f'Take back<span class="unseen">: {press_words(row)}' in signed_in.get(address).text
    where = reverse("crew:press-take-back", args=[row.pk])
    answer = signed_in.post(where, {"person": person.slug}, follow=True)
    assert "Taken back: Stop at" in text_of(answer) and answer.redirect_chain[0][0].startswith("/crew/day/?person=")
    page = text_of(signed_in.get(f"/crew/tasks/{task.pk}/"))
    assert "Pressed by mistake" in page and "Taken back" in page
    assert "taken back already" in text_of(signed_in.post(where, follow=True))


def test_a_worker_sees_no_button_of_others_and_is_refused(client, organisation, worker):
    person, task = a_day(organisation)
    row = press(person, task, "stop", done=3)
    client.force_login(worker)
    assert "Take back<" not in client.get(f"/crew/day/?person={person.slug}").text
    assert client.post(reverse("crew:press-take-back", args=[row.pk])).status_code == 403
    client.force_login(MembershipFactory().user)
    assert client.post(reverse("crew:press-take-back", args=[row.pk])).status_code == 404
    assert state_of(task) == (Task.State.STARTED, 3)


def test_the_acceptance_of_a_trial_hoop_stays(organisation, user):
    shop = make_shop(organisation, user)
    house = a_house(shop, "One")
    batch = a_batch(shop, house)
    batch.prove()
    with pytest.raises(ValidationError, match=f"The trial hoop of {batch.batch} is accepted, so this task stays done"):
        back(user, trial(house).actuals.get())


def test_a_bend_stays_while_hoops_bent_after_it_are_recorded(organisation, user):
    shop = make_shop(organisation, user)
    house = a_house(shop, "One")
    batch = a_batch(shop, house)
    batch.prove()
    bend = Task.objects.get(house=house, kind=Kind.BEND)
    person = PersonFactory(organisation=organisation)
    start = press(person, bend, "start")
    batch.issue(4)
    record_bent(**batch.on, hoops=1)
    with pytest.raises(ValidationError, match="were recorded as bent after it"):
        back(user, start)
    # What was pressed after the last hoop rests on nothing.
    row = press(person, bend, "stop")
    assert back(user, row).reverses == row
    take_back_hoops(**batch.on, hoops=1, spoilt=False, reason="counted twice")
    assert back(user, start).reverses == start


def test_no_press_is_edited_and_none_taken_back_elsewhere(organisation, user):
    person, task = a_day(organisation)
    row = press(person, task, "stop", done=3)
    with pytest.raises(DatabaseError, match="what was pressed is kept"), transaction.atomic():
        Actual.objects.filter(pk=row.pk).update(done=30)
    _, other = a_day(organisation)
    wrong = Actual(organisation=organisation, task=other, key="0" * 32, stopped_at=timezone.now(), reverses=row)
    with pytest.raises(DatabaseError, match="at its own task"), transaction.atomic():
        wrong.save()


@pytest.mark.django_db(transaction=True)
def test_two_starts_of_one_person_at_once_are_one():
    person, task = a_day(MembershipFactory().organisation)
    gate = Barrier(4, timeout=30)

    def work(_):
        try:
            gate.wait()
            return press(person, task, "start").pk
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        kept = set(pool.map(work, range(4)))
    assert kept == {Actual.objects.get().pk}


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_done_against_taking_back(organisation, user):
    """The later one waits: Done finds what is left after it, and taking back the same twice is refused."""
    person, task = a_day(organisation)
    ben = PersonFactory(crew=task.crew)
    row = press(person, task, "stop", done=30)
    comes_second(lambda: back(user, row), lambda: press(ben, task, "done"))
    assert state_of(task) == (Task.State.DONE, 40)
    assert Actual.objects.get(finished=True).done == 40
    done = Actual.objects.get(finished=True)
    assert comes_second(lambda: back(user, done), lambda: back(user, done)) == "This press is taken back already."
    assert state_of(task) == (Task.State.OPEN, 0)
    comes_second(lambda: press(ben, task, "done"), lambda: back(user, row))
    assert state_of(task) == (Task.State.DONE, 40)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_the_second_start_finds_the_first(organisation):
    person, task = a_day(organisation)
    second = comes_second(lambda: press(person, task, "start"), lambda: press(person, task, "start"))
    assert second == Actual.objects.get()
