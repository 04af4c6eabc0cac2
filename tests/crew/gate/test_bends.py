"""The task Bend the batch of a house is as far as the batches of the house are, whichever was made first."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.actuals.services import record
from farmbuild.crew.hours.services import approve
from farmbuild.crew.models import Actual, HouseWork, Kind, Task
from farmbuild.crew.steps.selectors import spreads_of
from farmbuild.crew.steps.services import make_tasks, standard_template
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BentHoops
from farmbuild.hoops.batches.signals import batch_changed
from tests.factories import FOOT, CrewFactory, HouseFactory, MembershipFactory, PersonFactory, SiteFactory
from tests.hoops.batches.making import TARGET, Shop, make_shop

pytestmark = pytest.mark.django_db

#: Marks of a 10 ft stick at 9 in and every 17 in are 7; two sticks to a hoop.
PULLS = 14
OPEN, STARTED, DONE = "open", "started", "done"


@pytest.fixture
def shop(organisation, user):
    return make_shop(organisation, user)


def a_house(shop, name: str, *, hoops: int = 6, task: bool = True, **more):
    """With a task of bending all hoops but the trial hoop, which is the first."""
    site = SiteFactory(organisation=shop.organisation)
    given = {"recipe": shop.batch.recipe, "name": name, "slug": name.lower(), "post_span": FOOT * 12}
    house = HouseFactory(site=site, **given | more)
    if task:
        Task.objects.create(
            organisation=shop.organisation, house=house, kind=Kind.BEND, count=(hoops - 1) * PULLS, minutes=60
        )
    return house


def a_batch(shop, shares, quantity: int | None = None) -> Shop:
    batch = services.create_batch(
        **shop.who,
        recipe=shop.batch.recipe,
        bender=shop.batch.bender,
        quantity=quantity or sum(shares.values()),
        shares=shares,
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )
    return Shop(shop.organisation, shop.user, batch, shop.lot)


def bend(batch: Shop, hoops: int) -> None:
    batch.issue(hoops * 2)
    services.record_bent(**batch.on, hoops=hoops)


def at(house) -> tuple[str, int]:
    task = Task.objects.get(house=house, kind=Kind.BEND)
    return task.state, task.done


def press(house, what, person=None, **more) -> Actual:
    task = Task.objects.get(house=house, kind=Kind.BEND)
    given = {"key": uuid4(), "user": None, "person": person, "at": timezone.now()} | more
    return record(organisation=task.organisation, task=task, what=what, **given)


def test_the_task_follows_the_batch(shop):
    house, other = a_house(shop, "One"), a_house(shop, "Other")
    batch = a_batch(shop, {house: 6})
    assert at(house) == (OPEN, 0)
    batch.prove()
    assert at(house) == (OPEN, 0), "the trial hoop is a task of its own"
    bend(batch, 2)
    assert at(house) == (STARTED, 2 * PULLS)
    bend(batch, 3)
    assert at(house) == (DONE, 5 * PULLS)
    services.finish_batch(**batch.on)
    assert at(house) == (DONE, 5 * PULLS)
    assert at(other) == (OPEN, 0)
    assert not Actual.objects.exists()


def test_a_batch_that_ends_short_ends_the_task(shop):
    house = a_house(shop, "One")
    batch = a_batch(shop, {house: 6})
    batch.prove()
    bend(batch, 3)
    services.finish_batch(**batch.on, short=True)
    assert at(house) == (DONE, 3 * PULLS)
    again = a_batch(shop, {house: 2})
    assert at(house) == (STARTED, 3 * PULLS), "the rest is bent after all"
    again.prove()
    assert at(house) == (STARTED, 4 * PULLS)
    bend(again, 1)
    assert at(house) == (DONE, 5 * PULLS)


def test_a_hoop_of_fewer_pulls_than_the_task_was_counted_by_ends_it_all_the_same(shop):
    """The task was made when a hoop took 16 pulls; the batch bends all 13 hoops of the house with 14."""
    house = a_house(shop, "One", hoops=13)
    Task.objects.filter(house=house).update(count=12 * 16)
    batch = a_batch(shop, {house: 13})
    batch.prove()
    bend(batch, 12)
    assert at(house) == (STARTED, 12 * PULLS)
    services.finish_batch(**batch.on)
    assert at(house) == (DONE, 12 * PULLS)


def test_batches_for_one_house_are_summed(shop):
    house = a_house(shop, "One")
    first, second = a_batch(shop, {house: 2}), a_batch(shop, {house: 4})
    first.prove()
    bend(first, 1)
    services.finish_batch(**first.on)
    assert at(house) == (STARTED, PULLS)
    second.prove()
    bend(second, 3)
    assert at(house) == (DONE, 5 * PULLS)


def test_a_batch_for_a_part_of_the_hoops_does_not_end_the_task(shop):
    house = a_house(shop, "One")
    batch = a_batch(shop, {house: 3})
    batch.prove()
    bend(batch, 2)
    services.finish_batch(**batch.on)
    assert at(house) == (STARTED, 2 * PULLS)
    press(house, "done", minutes=60)
    assert at(house) == (DONE, 2 * PULLS), "somebody says that the others are there"


def test_the_house_that_needs_its_hoops_first_gets_them_first(shop):
    late = a_house(shop, "Late", need_date=date(2027, 6, 1))
    soon = a_house(shop, "Soon", need_date=date(2027, 4, 1))
    batch = a_batch(shop, {late: 6, soon: 6})
    batch.prove()
    bend(batch, 5)
    assert (at(soon), at(late)) == ((DONE, 5 * PULLS), (OPEN, 0))
    bend(batch, 4)
    assert (at(soon), at(late)) == ((DONE, 5 * PULLS), (STARTED, 3 * PULLS))


@pytest.mark.parametrize(("bent", "wanted"), [(0, OPEN), (2, STARTED), (12, DONE)])
def test_a_task_made_later_starts_with_what_is_bent(shop, organisation, user, bent, wanted):
    house = a_house(shop, "One", task=False)
    batch = a_batch(shop, {house: 13})
    batch.prove()
    if bent:
        bend(batch, bent)
    template = standard_template(organisation=organisation, user=user)
    HouseWork.objects.create(organisation=organisation, house=house, template=template)
    for _ in range(2):
        make_tasks(organisation=organisation, user=user, house=house)
        task = Task.objects.get(house=house, kind=Kind.BEND)
        assert (task.state, task.done, task.count) == (wanted, bent * PULLS, 12 * PULLS)


def test_hours_at_the_task_and_hoops_on_the_batch_are_not_counted_twice(shop, organisation):
    house = a_house(shop, "One")
    person = PersonFactory(crew=CrewFactory(organisation=organisation))
    batch = a_batch(shop, {house: 6})
    batch.prove()
    press(house, "start", person, at=timezone.now() - timedelta(hours=2))
    assert at(house) == (STARTED, 0)
    bend(batch, 2)
    with pytest.raises(ValidationError, match="Hoops are counted on the page of Batch 2") as refused:
        press(house, "stop", person, done=28)
    assert set(refused.value.message_dict) == {"done"}
    with pytest.raises(ValidationError, match="This task is done when Batch 2 is done"):
        press(house, "done", person)
    kept = press(house, "stop", person)
    assert (kept.done, kept.started_at < kept.stopped_at) == (0, True)
    assert at(house) == (STARTED, 2 * PULLS)
    press(house, "start", person)
    bend(batch, 3)
    assert at(house) == (DONE, 5 * PULLS)
    assert press(house, "stop", person).done == 0, "whoever was at it still stops"
    with pytest.raises(ValidationError, match=r"is done already\. Its batch counts the hoops"):
        press(house, "start", person)


def test_what_was_pressed_before_there_was_a_batch_gives_way_to_it(shop):
    house = a_house(shop, "One")
    press(house, "stop", done=30, minutes=90)
    assert at(house) == (STARTED, 30)
    batch = a_batch(shop, {house: 6})
    assert at(house) == (STARTED, 0)
    batch.prove()
    bend(batch, 5)
    assert at(house) == (DONE, 5 * PULLS)


def test_what_fails_at_the_task_undoes_the_hoops(shop):
    house = a_house(shop, "One")
    batch = a_batch(shop, {house: 6})
    batch.prove()
    batch.issue(2)

    def refuse(sender, **more):
        raise ValidationError("Not now.")

    batch_changed.connect(refuse)
    try:
        with pytest.raises(ValidationError, match="Not now"):
            services.record_bent(**batch.on, hoops=1)
    finally:
        batch_changed.disconnect(refuse)
    assert (BentHoops.objects.count(), batch.now().hoops_bent, at(house)) == (1, 1, (OPEN, 0))


def test_a_house_of_others_is_left_alone(shop):
    other = make_shop(MembershipFactory().organisation, None)
    house = a_house(other, "Theirs")
    batch = a_batch(shop, {a_house(shop, "Ours"): 6})
    batch.prove()
    bend(batch, 5)
    assert at(house) == (OPEN, 0)


@pytest.mark.django_db(transaction=True)
def test_two_batches_and_a_press_at_once():
    """Each of eight threads bends a hoop or keeps hours; the task ends as far as both batches are."""
    member = MembershipFactory()
    shop = make_shop(member.organisation, member.user)
    house = a_house(shop, "One", hoops=9)
    batches = [a_batch(shop, {house: 5}), a_batch(shop, {house: 4})]
    for batch in batches:
        batch.prove()
        batch.issue(6)
    barrier = Barrier(8)

    def work(number: int) -> None:
        try:
            barrier.wait(timeout=30)
            if number < 6:
                services.record_bent(**batches[number % 2].on, hoops=1)
            else:
                press(house, "stop", minutes=30)
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(work, range(8)))
    assert [batch.now().hoops_bent for batch in batches] == [4, 4]
    assert at(house) == (STARTED, 7 * PULLS)
    assert Actual.objects.filter(task__house=house, done=0).count() == 2


# The pages.


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


def test_task_and_batch_name_each_other(signed_in, shop):
    house = a_house(shop, "One")
    task = Task.objects.get(house=house)
    address = reverse("crew:task", args=[task.pk])
    assert "counted on" not in text_of(signed_in.get(address))
    batch = a_batch(shop, {house: 6})
    batch.prove()
    bend(batch, 2)
    page = text_of(signed_in.get(address))
    assert f'3 of 6 hoops bent: <a href="{batch.batch.get_absolute_url()}">Batch 2</a>.' in page
    assert "Hoops are counted on the page of Batch 2; Start and Stop here count hours alone." in page
    page = text_of(signed_in.get(batch.batch.get_absolute_url()))
    assert f'<a href="{address}">Bend the batch, One</a>: started, 28 of 70 pulls' in page
    assert "crew/tasks" not in text_of(signed_in.get(shop.batch.get_absolute_url()))


def test_the_list_of_a_day_asks_for_no_pulls_that_a_batch_counts(signed_in, shop, organisation):
    person = PersonFactory(crew=CrewFactory(organisation=organisation))
    start = timezone.now().replace(hour=12, minute=0)

    def queries() -> tuple[int, str]:
        cache.clear()
        with CaptureQueriesContext(connection) as seen:
            answer = signed_in.get(f"{reverse('crew:day')}?person={person.slug}&day={start.date()}")
        return len(seen), text_of(answer)

    def planned(name: str) -> Shop:
        house = a_house(shop, name)
        Task.objects.filter(house=house).update(crew=person.crew, starts_at=start, ends_at=start + timedelta(hours=1))
        return a_batch(shop, {house: 6})

    planned("One").prove()
    queries()
    few, page = queries()
    assert "Hoops are counted on the page of Batch 2" in page
    assert "Done now, pulls" not in page and ">Stop" in page and ">Done<" not in page
    for name in ("Two", "Three", "Four"):
        planned(name).prove()
    many, _ = queries()
    assert many == few


def test_the_page_of_a_batch_asks_no_more_for_more_houses(signed_in, shop):
    def queries(batch) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed_in.get(batch.batch.get_absolute_url()).status_code == 200
        return len(seen)

    one = a_batch(shop, {a_house(shop, "One"): 2})
    many = a_batch(shop, {a_house(shop, name): 2 for name in ("Two", "Three", "Four")})
    queries(one)
    assert queries(one) == queries(many)


def test_the_rate_of_bending_comes_from_the_hours_at_the_task_and_the_pulls_of_the_batch(shop, organisation):
    """70 pulls in 140 person-minutes, kept at the task in two parts: 2 minutes a pull."""
    house = a_house(shop, "One")
    batch = a_batch(shop, {house: 6})
    batch.prove()
    press(house, "stop", minutes=50, people=2)
    bend(batch, 2)
    assert Kind.BEND not in spreads_of(organisation=organisation), "not before it is done"
    press(house, "stop", minutes=40)
    bend(batch, 3)
    assert Kind.BEND not in spreads_of(organisation=organisation), "not before the hours are approved"
    runs = [(run.pk, None) for run in Actual.objects.all()]
    approve(organisation=organisation, user=shop.user, runs=runs)
    assert spreads_of(organisation=organisation)[Kind.BEND].median == 2
