"""Eight people at one joint order at once, each with a connection of their own; on either database."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum

from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.sending import send_order
from farmbuild.coop.joint import own, services
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.models import Handout, JointNeed, JointOrder, MemberEntry, TakenOver
from farmbuild.costs.law import faults_of
from farmbuild.stock.models import Lot
from tests.buying.test_receiving_races import THREADS, at_once
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import RAIL
from tests.factories import MaterialFactory, MemberFarmFactory, MembershipFactory, PlaceFactory

pytestmark = pytest.mark.django_db(transaction=True)
D = Decimal


@pytest.fixture
def coop():
    return Cooperative(members=THREADS)


def refused(work) -> str:
    try:
        work()
    except ValidationError as error:
        return " ".join(error.messages)
    return ""


def put_in(coop, joint, member, rails) -> str:
    return refused(lambda: coop.put_in(joint, member, rails=rails))


def test_closed_once_and_what_came_at_the_closing_moment_is_in_whole_or_told(coop):
    joint = coop.joint()
    coop.put_in(joint, 0, rails=10)

    def work(number):
        if number % 2:
            return put_in(coop, joint, number, number)
        return refused(lambda: services.close_joint(**coop.who, joint=joint))

    said = at_once(work)
    closings = [words for number, words in enumerate(said) if not number % 2]
    assert sum(not words for words in closings) == 1
    assert all("is closed" in words for words in closings if words)
    assert all("stays as it is" in words for number, words in enumerate(said) if number % 2 and words)
    order = PurchaseOrder.objects.get()
    wanted = JointNeed.objects.aggregate(sum=Sum("quantity"))["sum"]
    assert wanted == 10 + sum(number for number, words in enumerate(said) if number % 2 and not words)
    assert order.lines.get().quantity == wanted


def test_put_in_by_two_at_once_is_one_line(coop):
    joint = coop.joint()
    said = at_once(lambda number: put_in(coop, joint, number % 2, 5 + number % 3))
    assert said == [""] * THREADS
    assert JointNeed.objects.count() == 2
    assert [row.position for row in joint.members.all()] == [1, 2]


def test_sent_and_opened_again_at_once_one_of_the_two_happens(coop):
    joint = coop.joint()
    coop.put_in(joint, 0, rails=10)
    [order] = coop.close(joint, send=False)

    def work(number):
        if number % 2:
            return refused(lambda: services.reopen_joint(**coop.who, joint=joint, reason="one is missing"))
        return refused(lambda: send_order(**coop.who, order=order, sent_on=coop.today, how="by e-mail"))

    at_once(work)
    order.refresh_from_db()
    joint.refresh_from_db()
    assert (order.state, joint.closed_at is None) in {("sent", False), ("cancelled", True)}


def test_no_more_is_handed_out_than_came_or_is_due_and_charged_once(coop):
    joint = coop.joint()
    for n in range(4):
        coop.put_in(joint, n, rails=5)
    [order] = coop.close(joint)
    coop.receive(order, 18)

    def work(number):
        return [
            refused(lambda: coop.hand_out(joint, number % 4, rail=2)),
            refused(lambda: coop.hand_out(joint, number % 4, rail=2)),
            refused(lambda: coop.charge(joint)),
        ]

    said = at_once(work)
    assert sum(not words[2] for words in said) == 1
    # 4 of each member's 5 went out, two at a time.
    out = Handout.objects.values_list("member").annotate(sum=Sum("quantity")).order_by("member")
    assert [count for _, count in out] == [4] * 4
    assert Lot.objects.get().on_hand == 2
    assert MemberEntry.objects.aggregate(sum=Sum("amount"))["sum"] == split_of(joint).total
    assert list(faults_of(organisation=coop.organisation)) == []


def test_taken_over_by_the_farm_or_taken_back_and_never_both(coop):
    farm = MemberFarmFactory(member=coop.members[0]).farm
    someone = MembershipFactory(organisation=farm).user
    MaterialFactory(organisation=farm, code="top-rail")
    place = PlaceFactory(organisation=farm)
    joint = coop.joint()
    coop.put_in(joint, 0, rails=5)
    [order] = coop.close(joint)
    coop.receive(order, 5)
    [handout] = coop.hand_out(joint, 0)
    press = {"member": coop.members[0], "user": someone, "joint": joint, "place": place, "day": coop.today}

    def work(number):
        if number % 2:
            return refused(lambda: services.take_handout_back(**coop.who, handout=handout, reason="wrong pile"))
        return refused(lambda: own.take_over(**press))

    said = at_once(work)
    assert sum(not words for words in said) == 1
    assert TakenOver.objects.count() + Handout.objects.exclude(reverses=None).count() == 1
    assert sum(Lot.objects.values_list("on_hand", flat=True)) == 5
    assert JointOrder.objects.count() == 1
    assert RAIL[1] == handout.length
