"""Bent hoops that count no more: spoilt, so that their sticks are scrap, or counted wrongly."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.crew.models import Kind, Task
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import BentHoops
from farmbuild.hoops.batches.selectors import unbent_sticks
from farmbuild.plans.balance import balances
from tests.factories import FOOT, HouseFactory, MembershipFactory, SiteFactory
from tests.hoops.batches.making import TARGET, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(shop):
    """Of 13 hoops, with a batch for them all and the task of bending 12 of them, 14 pulls each."""
    house = HouseFactory(
        site=SiteFactory(organisation=shop.organisation), recipe=shop.batch.recipe, post_span=FOOT * 12
    )
    shop.batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=13, shares={house: 13},
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )  # fmt: skip
    Task.objects.create(organisation=shop.organisation, house=house, kind=Kind.BEND, count=12 * 14)
    return house


@pytest.fixture
def done(shop, house):
    shop.prove()
    shop.issue(24)
    services.record_bent(**shop.on, hoops=12)
    services.finish_batch(**shop.on)
    return shop


def task(house) -> tuple[str, int]:
    row = Task.objects.get(house=house)
    return row.state, row.done


def back(shop, hoops: int, *, spoilt: bool, reason: str = "kinked when set") -> BentHoops:
    return services.take_back_hoops(**shop.on, hoops=hoops, reason=reason, spoilt=spoilt)


def test_spoilt_hoops_reopen_the_batch_and_the_task_and_the_house_lacks_their_sticks(done, house, organisation):
    assert task(house) == ("done", 168)
    back(done, 2, spoilt=True)
    batch = done.now()
    assert (batch.state, batch.hoops_bent, batch.sticks_spoilt, unbent_sticks(batch=batch)) == ("bending", 11, 4, 0)
    assert task(house) == ("started", 140)
    found = balances(organisation=organisation, houses=[house])[house.pk]
    [row] = [row for row in found.rows if row.purpose == "hoops"]
    assert (row.needed, row.in_house, row.to_find) == (26, 22, 4)
    done.issue(4)
    services.record_bent(**done.on, hoops=2)
    assert task(house) == ("done", 168)
    services.finish_batch(**done.on)
    done.lot.refresh_from_db()
    assert done.lot.on_hand == 60 - 30


def test_hoops_counted_wrongly_leave_their_sticks_unbent(done, house):
    back(done, 3, spoilt=False, reason="typed 12 for 9")
    batch = done.now()
    assert (batch.state, batch.hoops_bent, batch.sticks_spoilt, unbent_sticks(batch=batch)) == ("bending", 10, 0, 6)
    assert task(house) == ("started", 9 * 14)
    services.return_sticks(**done.on, lot=done.lot, quantity=6)
    services.finish_batch(**done.on, short=True)
    assert task(house) == ("done", 9 * 14)


def test_no_more_than_there_are_and_never_without_a_reason(done):
    for hoops, spoilt, says in (
        (14, True, "from 1 to 13"), (13, False, "from 1 to 12"), (0, True, "from 1 to 13"), (-1, True, "from 1 to 13"),
    ):  # fmt: skip
        with pytest.raises(ValidationError, match=says) as refused:
            back(done, hoops, spoilt=spoilt)
        assert set(refused.value.message_dict) == {"hoops"}
    with pytest.raises(ValidationError, match="Say why"):
        back(done, 1, spoilt=True, reason=" ")
    assert (done.now().hoops_bent, done.batch.state) == (13, "done")


def test_nothing_is_taken_back_before_proof(shop):
    with pytest.raises(ValidationError, match="Nothing is left to take back"):
        back(shop, 1, spoilt=True)


def test_a_spoilt_trial_hoop_after_proof_is_bent_again(shop, house):
    shop.prove()
    back(shop, 1, spoilt=True)
    assert (shop.now().hoops_bent, shop.batch.sticks_spoilt) == (0, 2)
    shop.issue(26)
    services.record_bent(**shop.on, hoops=13)
    assert task(house) == ("done", 168)


def test_the_database_takes_back_no_more_than_is_bent(done):
    for hoops in (0, -14):
        with pytest.raises(IntegrityError), transaction.atomic():
            BentHoops.objects.create(batch=done.batch, hoops=hoops)


def test_the_page(signed_in, done):
    address = reverse("hoops:batch-take-back", args=[2])
    assert address in signed_in.get(done.batch.get_absolute_url()).content.decode()
    refused = signed_in.post(address, {"hoops": "2", "reason": ""})
    assert set(refused.context["form"].errors) == {"what", "reason"}
    sent = signed_in.post(address, {"hoops": "2", "what": "spoilt", "reason": "kinked"})
    assert sent["Location"] == done.batch.get_absolute_url()
    assert (done.now().hoops_bent, done.batch.sticks_spoilt) == (11, 4)
    signed_in.post(address, {"hoops": "1", "what": "wrong", "reason": "typed twice"})
    assert (done.now().hoops_bent, done.batch.sticks_spoilt) == (10, 4)
    page = signed_in.get(done.batch.get_absolute_url()).content.decode()
    assert "kinked" in page and "typed twice" in page


def test_the_batch_of_others_is_not_there(signed_in):
    other = make_shop(MembershipFactory().organisation, None)
    other.prove()
    assert signed_in.get(reverse("hoops:batch-take-back", args=[1])).status_code == 404
    assert other.now().hoops_bent == 1
