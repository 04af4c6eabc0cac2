"""The task Trial hoop of a house and the acceptance of its hoops are one."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.utils import timezone

from farmbuild.crew.actuals.services import record
from farmbuild.crew.gate.rules import check_press
from farmbuild.crew.models import Actual, HouseWork, Kind, Task
from farmbuild.crew.steps.services import make_tasks, standard_template
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from tests.factories import FOOT, CrewFactory, HouseFactory, MembershipFactory, PersonFactory, SiteFactory
from tests.hoops.batches.making import TARGET, Shop, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(organisation, user):
    return make_shop(organisation, user)


def a_house(shop, name: str, *, tasks=(Kind.TRIAL, Kind.BEND)):
    site = SiteFactory(organisation=shop.organisation)
    house = HouseFactory(site=site, recipe=shop.batch.recipe, name=name, slug=name.lower(), post_span=FOOT * 12)
    for kind in tasks:
        Task.objects.create(organisation=shop.organisation, house=house, kind=kind, count=9, people=2, minutes=60)
    return house


def a_batch(shop, *houses) -> Shop:
    data = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    given = {"recipe": shop.batch.recipe, "bender": shop.batch.bender, "quantity": 13}
    batch = services.create_batch(**shop.who, **given, shares=dict.fromkeys(houses, 6), data=data)
    return Shop(shop.organisation, shop.user, batch, shop.lot)


def trial(house) -> Task:
    return Task.objects.get(house=house, kind=Kind.TRIAL)


def press(task, what, person=None, **more):
    given = {"key": uuid4(), "user": None, "person": person, "at": timezone.now()} | more
    return record(organisation=task.organisation, task=task, what=what, **given)


def test_acceptance_does_the_task_of_every_house_of_the_batch(shop, user):
    one, two, else_ = (a_house(shop, name) for name in ("One", "Two", "Else"))
    before = timezone.now()
    a_batch(shop, one, two).prove()
    for house in (one, two):
        task = trial(house)
        kept = task.actuals.get()
        assert (task.state, task.done) == (Task.State.DONE, 9)
        assert (kept.by, kept.done, kept.finished, kept.started_at) == (user, 9, True, None)
        assert before <= kept.stopped_at <= timezone.now()
    assert (trial(else_).state, Actual.objects.count()) == (Task.State.OPEN, 2)


def test_a_house_of_two_batches_waits_for_both(shop):
    house = a_house(shop, "One")
    first, second = a_batch(shop, house), a_batch(shop, house)
    second.prove()
    assert trial(house).state == Task.State.OPEN and not Actual.objects.exists()
    first.prove()
    assert trial(house).state == Task.State.DONE and Actual.objects.count() == 1


def test_who_works_at_it_has_stopped_and_the_time_counts(shop, organisation):
    """Begun two hours ago by two people: 2 h for 9 pulls."""
    house = a_house(shop, "One")
    person = PersonFactory(crew=CrewFactory(organisation=organisation))
    batch = a_batch(shop, house)
    begun = timezone.now() - timedelta(hours=2)
    press(trial(house), "start", person, at=begun, people=3)
    batch.prove()
    kept = trial(house).actuals.last()
    assert (kept.person, kept.started_at, kept.people, kept.finished) == (person, begun, 3, True)


def test_who_accepts_is_who_did_it_where_that_person_is_known(shop, organisation, user):
    """A person of the sign-in who is still there; never one without a sign-in."""
    PersonFactory(crew=CrewFactory(organisation=organisation))
    own = PersonFactory(crew=CrewFactory(organisation=organisation), user=user)
    houses = [a_house(shop, name) for name in ("One", "Two", "Three")]
    a_batch(shop, houses[0]).prove()
    own.archived_at = timezone.now()
    own.save()
    a_batch(shop, houses[1]).prove()
    shop.user = None
    a_batch(shop, houses[2]).prove()
    assert [trial(house).actuals.get().person for house in houses] == [own, None, None]


def test_an_acceptance_that_fails_does_no_task(shop, monkeypatch):
    house = a_house(shop, "One")
    batch = a_batch(shop, house)
    monkeypatch.setattr(Actual, "full_clean", lambda *_, **__: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        batch.prove()
    assert trial(house).state == Task.State.OPEN
    assert not TrialHoop.objects.filter(accepted=True).exists()
    assert batch.now().state == HoopBatch.State.TRIAL


def test_done_is_not_pressed_past_the_gate(shop, organisation):
    house = a_house(shop, "One")
    bend = Task.objects.get(house=house, kind=Kind.BEND)
    with pytest.raises(ValidationError, match="No batch of hoops is started for One"):
        check_press(organisation=organisation, task=trial(house), finishes=True)
    batch = a_batch(shop, house)
    with pytest.raises(ValidationError, match=f"The trial hoop of {batch.batch} is not accepted yet"):
        check_press(organisation=organisation, task=trial(house), finishes=True)
    check_press(organisation=organisation, task=trial(house), finishes=False)
    for finishes in (True, False):
        with pytest.raises(ValidationError, match="The bend waits for it"):
            check_press(organisation=organisation, task=bend, finishes=finishes)
    batch.prove()
    check_press(organisation=organisation, task=bend, finishes=True)


def test_a_task_made_after_its_hoop_was_accepted_is_done(shop, organisation, user):
    house = a_house(shop, "One", tasks=())
    a_batch(shop, house).prove()
    template = standard_template(organisation=organisation, user=user)
    HouseWork.objects.create(organisation=organisation, house=house, template=template, due=date(2027, 6, 1))
    made = make_tasks(organisation=organisation, user=user, house=house)
    task, accepted = trial(house), TrialHoop.objects.get(accepted=True)
    assert [row.state for row in made if row.kind == Kind.TRIAL] == [Task.State.DONE]
    assert task.state == Task.State.DONE
    assert (task.actuals.get().by, task.actuals.get().stopped_at) == (user, accepted.at)
    make_tasks(organisation=organisation, user=user, house=house)
    assert task.actuals.count() == 1


def test_a_house_of_others_is_left_alone(shop):
    """The same recipe name elsewhere; nothing of it is touched."""
    other = make_shop(MembershipFactory().organisation, None)
    house = a_house(other, "Theirs")
    a_batch(shop, a_house(shop, "Ours")).prove()
    assert trial(house).state == Task.State.OPEN


@pytest.mark.django_db(transaction=True)
def test_two_batches_accepted_at_once_open_the_gate():
    """Neither sees the other's acceptance before it has ended, and yet the later one finds both."""
    member = MembershipFactory()
    shop = make_shop(member.organisation, member.user)
    house = a_house(shop, "One")
    batches = [a_batch(shop, house), a_batch(shop, house)]
    hoops = []
    for batch in batches:
        batch.issue(2)
        hoops.append(batch.measure(TARGET))
    start = Barrier(2, timeout=30)

    def accept(n):
        try:
            start.wait()
            services.accept_trial(**batches[n].on, trial=hoops[n])
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(accept, range(2)))
    assert trial(house).state == Task.State.DONE and Actual.objects.count() == 1
