"""What a member sees and does of joint orders, by its sign-in or for its farm; and nothing of other members."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.measure import format_money
from farmbuild.stock.models import Lot
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import MEMBERS
from tests.factories import (
    JointOrderFactory,
    MaterialFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
)
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def coop(db):
    return Cooperative()


@pytest.fixture
def visitor(coop):
    client = Client()
    client.force_login(MemberSignInFactory(member=coop.members[1]).user)
    return client


def at(coop, name="seen-joint", *args):
    return reverse(f"coop:{name}", args=[coop.organisation.slug, *args])


def nothing_of_others(page: str) -> None:
    assert not re.search(r"Farm [13-7]\b", page)
    for one in (MEMBERS[0], *MEMBERS[2:]):
        assert format_money(one.owes, "USD").removeprefix("$") not in page


def test_a_member_types_changes_and_withdraws_what_it_needs(coop, visitor):
    assert "No joint order takes anything at present." in text_of(visitor.get(at(coop, "seen-joints")))
    coop.joint(note="Bring a trailer")
    assert "One joint order is open to you until" in text_of(visitor.get(at(coop, "seen-joints")))
    page = text_of(visitor.get(at(coop, "seen-joint", 1)))
    assert "Bring a trailer" in page and "Put in what you need" in page
    put_in = at(coop, "seen-joint-need", 1)
    wrong = text_of(visitor.post(put_in, {"material": coop.rail.pk, "length": "", "quantity": "37"}))
    assert "Not done yet." in wrong
    given = {"material": coop.rail.pk, "length": "10'", "quantity": "37"}
    assert visitor.post(put_in, given).status_code == 302
    need = JointNeed.objects.get()
    assert (need.member, need.quantity) == (coop.members[1], 37)
    page = text_of(visitor.get(at(coop, "seen-joint", 1)))
    assert "You need 37 pieces of it; change it until" in page and "You save" in page
    change = at(coop, "seen-joint-change", 1, need.pk)
    assert visitor.post(change, {"quantity": "40"}).status_code == 302
    need.refresh_from_db()
    assert need.quantity == 40
    assert visitor.post(at(coop, "seen-joint-withdraw", 1, need.pk)).status_code == 302
    assert not JointNeed.objects.exists()


def test_after_the_closing_day_it_changes_nothing(coop, visitor):
    joint = coop.example()
    need = joint.needs.get(member=coop.members[1])
    change = at(coop, "seen-joint-change", 1, need.pk)
    JointOrder.objects.update(closes_on=coop.today - timedelta(days=1))
    assert "Its closing day is over" in text_of(visitor.post(change, {"quantity": "40"}, follow=True))
    visitor.post(at(coop, "seen-joint-withdraw", 1, need.pk))
    visitor.post(at(coop, "seen-joint-need", 1), {"material": coop.pipe.pk, "length": "20'", "quantity": "3"})
    assert list(joint.needs.filter(member=coop.members[1]).values_list("quantity", flat=True)) == [37]


def test_it_sees_what_it_got_and_owes_and_nothing_of_others(coop, visitor):
    joint = coop.example()
    nothing_of_others(text_of(visitor.get(at(coop, "seen-joint", 1))))
    (order,) = coop.close(joint)
    page = text_of(visitor.get(at(coop, "seen-joint", 1)))
    assert "Your 37 pieces are ordered, wanted by" in page
    nothing_of_others(page)
    coop.receive(order, *[(200, 3) if line.material == coop.rail else 24 for line in order.lines.all()], short=True)
    coop.charge(joint)
    page = text_of(visitor.get(at(coop, "seen-joint", 1)))
    assert "36 of your 37 pieces came and wait for you." in page
    assert "$499.41" in page and "$643.45" in page
    nothing_of_others(page)
    coop.hand_out(joint, 1)
    page = text_of(visitor.get(at(coop, "seen-joint", 1)))
    assert "You have 36 of your 37 pieces." in page
    nothing_of_others(page)
    other = joint.needs.filter(member=coop.members[0]).first()
    for name in ("seen-joint-change", "seen-joint-withdraw"):
        assert visitor.post(at(coop, name, 1, other.pk), {"quantity": "1"}).status_code == 404


def test_what_another_member_put_in_is_not_the_page_of_this_one(coop, visitor):
    joint = coop.joint()
    coop.put_in(joint, 0, rails=5)
    coop.close(joint)
    assert visitor.get(at(coop, "seen-joint", 1)).status_code == 404
    assert visitor.get(joint.get_absolute_url()).status_code == 404


def test_people_of_its_farm_do_it_for_their_farm(coop, client):
    row = MemberFarmFactory(organisation=coop.organisation, member=coop.members[2])
    client.force_login(MembershipFactory(organisation=row.farm).user)
    coop.joint()
    given = {"material": coop.rail.pk, "length": "10'", "quantity": "29"}
    assert client.post(at(coop, "seen-joint-need", 1), given).status_code == 302
    assert JointNeed.objects.get().member == coop.members[2]
    page = text_of(client.get(at(coop, "seen-joint", 1)))
    assert "You need 29 pieces of it" in page
    assert client.get(at(coop, "seen-joint-plan", 1)).status_code == 200


def test_its_list_costs_the_same_at_any_length(coop, visitor):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert visitor.get(at(coop, "seen-joints")).status_code == 200
        return len(asked)

    given = {"organisation": coop.organisation, "delivery_site": coop.site}
    for number in range(1, 11):
        JointOrderFactory(number=number, **given)
    few = queries()
    JointOrder.objects.bulk_create(JointOrderFactory.build(number=number, **given) for number in range(11, 311))
    assert queries() == few


def test_a_farm_takes_what_it_got_into_its_own_stock_once(coop, client):
    row = MemberFarmFactory(organisation=coop.organisation, member=coop.members[0])
    client.force_login(MembershipFactory(organisation=row.farm).user)
    joint = coop.joint()
    coop.put_in(joint, 0, rails=5)
    [order] = coop.close(joint)
    coop.receive(order, 5)
    address, page = at(coop, "seen-joint-stock", 1), at(coop, "seen-joint", 1)
    assert client.get(address).status_code == 302
    coop.hand_out(joint, 0)
    assert "Take it into our stock" in text_of(client.get(page))
    assert "5 pieces handed out to you come into your own stock." in text_of(client.get(address))
    given = {"place": "Barn rack", "day": coop.today.isoformat()}
    assert "has no material that is the same as" in text_of(client.post(address, given))
    MaterialFactory(organisation=row.farm, code="top-rail")
    assert client.post(address, given).status_code == 302
    lot = Lot.objects.of(row.farm).get()
    assert (lot.on_hand, str(lot.place)) == (5, "Barn rack")
    assert client.post(address, given).status_code == 302
    assert Lot.objects.of(row.farm).count() == 1
    assert "Take it into our stock" not in text_of(client.get(page))
