"""The worked example through services, from what members type to the entries in their accounts."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db.models import Sum

from farmbuild.buying.models import CostAdjustment, ReceiptLine
from farmbuild.coop.joint.offers import preview_of
from farmbuild.coop.joint.services import charge_members
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.models import MemberEntry
from farmbuild.costs.law import faults_of, sides_of
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import MEMBERS, OWES

pytestmark = pytest.mark.django_db
D = Decimal


def test_from_what_members_type_to_their_accounts_to_the_cent():
    coop = Cooperative()
    joint = coop.example()
    before = preview_of(joint)
    assert [row.pieces for row in before.rows] == [one.ordered + one.pipes for one in MEMBERS]
    # 200 rails at 12.75 and 24 pipes at 34.00, both with 6.25 %, and 85.
    assert before.total == D("2550.00") + D("159.38") + D("816.00") + D("51.00") + D("85.00")
    assert before.saving == before.alone_total - before.total > 800
    [order] = coop.close(joint)
    assert [(line.quantity, line.unit_price) for line in order.lines.order_by("-unit_price")] == [
        (24, D("34.00")),
        (200, D("12.75")),
    ]
    pipes, rails = (0, 1) if order.lines.first().material == coop.pipe else (1, 0)
    came = {pipes: 24, rails: (200, 3)}
    coop.receive(order, came[0], came[1], short=True)
    whole = {pipes: 24, rails: 197}
    coop.bill(order, [whole[0], whole[1]], tax=D("207.98"), delivery=D("85"), total=D("3620.73"))
    found = split_of(joint)
    place = {item.material.code: k for k, item in enumerate(found.items)}
    rail, pipe = place["rail"], place["pipe"]
    rows = [
        (
            row.ordered[rail],
            row.got[rail],
            row.got[pipe],
            row.goods,
            row.tax[rail],
            row.tax[pipe],
            row.delivery,
            row.owes,
            row.alone,
        )
        for row in found.rows
    ]
    assert rows == [
        (m.ordered, m.rails, m.pipes, m.goods, m.rail_tax, m.pipe_tax, m.delivery, m.owes, m.alone) for m in MEMBERS
    ]
    assert found.total == D("3620.73")
    assert len(coop.charge(joint)) == 7
    accounts = [
        MemberEntry.objects.filter(member=member).aggregate(sum=Sum("amount"))["sum"] for member in coop.members
    ]
    assert accounts == OWES
    assert {row.source for row in MemberEntry.objects.all()} == {f"order {joint.pk}"}


def test_what_members_were_handed_out_bears_its_cost_and_all_adds_up():
    coop = Cooperative()
    joint = coop.example()
    [order] = coop.close(joint)
    first = [(200, 3), 24] if order.lines.first().material == coop.rail else [24, (200, 3)]
    coop.receive(order, *first, short=True)
    billed = [197, 24] if order.lines.first().material == coop.rail else [24, 197]
    coop.hand_out(joint, 0, rail=20)
    # The bill comes when some of it is handed out: what is in stock and what went out bear what it changes.
    coop.bill(order, billed, tax=D("207.98"), delivery=D("85"))
    adjusted = CostAdjustment.objects.aggregate(sum=Sum("amount"))["sum"] or 0
    cost = adjusted + ReceiptLine.objects.aggregate(sum=Sum("amount"))["sum"]
    assert cost == split_of(joint).total == D("3620.73")
    for n in range(7):
        coop.hand_out(joint, n)
    sides = sides_of(organisation=coop.organisation)
    assert sides.charged["handed out to members"] == D("3620.73")
    assert sides.charged["stock"] == 0
    assert list(faults_of(organisation=coop.organisation)) == []


def test_charged_again_there_is_nothing_to_post_and_what_was_seen_counts():
    coop = Cooperative(members=2)
    joint = coop.joint()
    coop.put_in(joint, 0, rails=3)
    coop.put_in(joint, 1, rails=2)
    coop.close(joint)
    coop.charge(joint)
    with pytest.raises(Exception, match="stands in the members' accounts already"):
        coop.charge(joint)
    with pytest.raises(Exception, match="Amounts changed while this page was open"):
        charge_members(**coop.who, joint=joint, day=coop.today, seen="another")


def test_more_delivery_than_expected_leaves_nothing_to_come_of_it():
    coop = Cooperative(members=1)
    joint = coop.joint()
    coop.put_in(joint, 0, rails=60)
    [order] = coop.close(joint)
    coop.receive(order, 60)
    assert split_of(joint).rows[0].delivery == 85
    coop.bill(order, [20], delivery=Decimal(100))
    assert split_of(joint).rows[0].delivery == 100
