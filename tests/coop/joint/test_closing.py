"""A joint order takes what members want until its day, closes once, and is opened again while nothing went out."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import IntegrityError, transaction

from farmbuild.buying.drafting.services import change_line
from farmbuild.buying.models import PurchaseOrder
from farmbuild.buying.sending import cancel_order, send_order
from farmbuild.coop.joint import services
from farmbuild.coop.joint.offers import preview_of
from farmbuild.coop.joint.selectors import joints_of, needs_of, open_joints_of, state_of
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.models import JointMember, JointNeed, JointOrder
from farmbuild.orgs.currency import why_fixed
from tests.coop.joint.making import Cooperative
from tests.coop.joint.worked import RAIL
from tests.factories import MaterialFactory, SupplierFactory

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def coop():
    return Cooperative(members=3)


def small(coop, **more) -> JointOrder:
    joint = coop.joint(**more)
    coop.put_in(joint, 0, rails=30)
    coop.put_in(joint, 1, rails=25, pipes=2)
    return joint


def put_in(coop, joint, *, member=0, material=None, length=RAIL[1], quantity=5):
    return services.put_in(
        **coop.who,
        joint=joint,
        member=coop.members[member],
        material=material or coop.rail,
        length=length,
        quantity=quantity,
    )


def said(call, *args, **kwargs) -> str:
    with pytest.raises(ValidationError) as caught:
        call(*args, **kwargs)
    return " ".join(caught.value.messages)


def test_what_is_put_in_again_is_changed_and_nothing_takes_it_out(coop):
    joint = small(coop)
    first = put_in(coop, joint, quantity=7)
    assert [(need.member.name, need.quantity) for need in needs_of(joint)] == [
        ("Farm 1", 7),
        ("Farm 2", 2),
        ("Farm 2", 25),
    ]
    assert put_in(coop, joint, quantity=7).put_in_at == first.put_in_at
    assert put_in(coop, joint, quantity=0) is None
    assert [row.member.name for row in joint.members.all()] == ["Farm 2"]
    put_in(coop, joint, quantity=3)
    assert [row.member.name for row in joint.members.all()] == ["Farm 2", "Farm 1"]
    [row] = joints_of(organisation=coop.organisation)
    assert (row.people, row.wanted) == (2, 3)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"quantity": -1}, "from 0 to"),
        ({"length": None}, "comes by length"),
        ({"length": D(-5)}, "longer than zero"),
    ],
)
def test_what_cannot_be_wanted_is_told(coop, wrong, words):
    assert words in said(put_in, coop, coop.joint(), **wrong)


def test_rows_of_others_get_in_nowhere(coop):
    other = Cooperative(members=1)
    assert "Choose one from the list" in said(put_in, coop, coop.joint(), material=other.rail)
    assert "Choose one from the list" in said(put_in, coop, other.joint())
    assert "Choose one from the list" in said(coop.joint, delivery_site=other.site)
    joint = coop.joint()
    with pytest.raises(IntegrityError, match="joint_need_of_one_organisation"), transaction.atomic():
        JointNeed.objects.create(joint=joint, member=other.members[0], material=coop.rail, quantity=1)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"closes_on": -1}, "That day has passed"),
        ({"need_by": 2}, "That is before"),
        ({"title": "  "}, "cannot be blank"),
        ({"damage_rule": "nobody"}, "not a valid choice"),
    ],
)
def test_days_and_words_of_a_joint_order_are_checked(coop, wrong, words):
    given = {name: coop.today + timedelta(days=one) if isinstance(one, int) else one for name, one in wrong.items()}
    assert words in said(coop.joint, **given)


def test_the_saving_is_shown_before_closing_by_the_same_offers(coop):
    joint = small(coop)
    found = preview_of(joint)
    # 55 rails at 13.40 and 2 pipes at 36.40, with 6.25 % each line, and 85.
    assert found.total == D("737.00") + D("46.06") + D("72.80") + D("4.55") + D("85")
    # Alone: 30 rails at 14.60 and 85.
    assert found.rows[0].alone == D("438.00") + D("27.38") + D("85")
    assert found.rows[0].saving > 0
    assert [row.member for row in found.rows] == coop.members[:2]


def test_packs_bring_more_which_are_the_cooperatives_own(coop):
    film = MaterialFactory(organisation=coop.organisation, code="clip", kind="hardware")
    coop.offer(film, None, {1: "2.00"}, pack=12)
    joint = coop.joint()
    put_in(coop, joint, member=0, material=film, length=None, quantity=7)
    put_in(coop, joint, member=1, material=film, length=None, quantity=3)
    assert [(row.member and row.member.name, row.pieces) for row in preview_of(joint).rows] == [
        ("Farm 1", 7),
        ("Farm 2", 3),
        (None, 2),
    ]
    coop.close(joint)
    page = split_of(joint)
    assert page.rows[-1].member is None
    assert page.rows[-1].got == (2,)
    assert page.remarks == ("Material clip: 2 pieces more than members want, which are the cooperative's own.",)


def test_closing_makes_drafts_once_and_freezes_what_members_want(coop):
    joint = small(coop)
    [order] = coop.close(joint, send=False)
    assert (order.state, order.number, order.need_by) == ("draft", "H1", joint.need_by)
    assert (order.goods, order.delivery, order.tax, order.total) == (D("809.80"), D(85), D("50.61"), D("945.41"))
    rows = JointMember.objects.filter(joint=joint)
    assert [row.alone - row.foreseen > 0 for row in rows] == [True, True]
    assert "is closed" in said(services.close_joint, **coop.who, joint=joint)
    assert "stays as it is" in said(put_in, coop, joint)
    assert PurchaseOrder.objects.count() == 1
    with pytest.raises(IntegrityError, match="joint_need_changed_while_open"), transaction.atomic():
        JointNeed.objects.filter(joint=joint).update(quantity=1)
    with pytest.raises(IntegrityError, match="joint_need_taken_out_while_open"), transaction.atomic():
        JointNeed.objects.filter(joint=joint).delete()
    assert "1 closed joint order" in why_fixed(coop.organisation)


def test_two_suppliers_get_an_order_each(coop):
    other = SupplierFactory(organisation=coop.organisation)
    wire = MaterialFactory(organisation=coop.organisation, code="wire", kind="hardware")
    coop.offer(wire, None, {1: "3.00"}, supplier=other)
    joint = small(coop)
    put_in(coop, joint, member=2, material=wire, length=None, quantity=4)
    assert {order.supplier for order in coop.close(joint)} == {coop.supplier, other}
    # Farm 3 takes nothing of the first supplier, and pays nothing of his delivery.
    assert split_of(joint).rows[2].owes == D("12.75")


def test_what_nobody_offers_and_what_changed_meanwhile_is_told_before_anything_is_closed(coop):
    joint = coop.joint()
    assert "No member wants anything yet" in said(services.close_joint, **coop.who, joint=joint)
    put_in(coop, joint)
    seen = preview_of(joint).seen
    put_in(coop, joint, quantity=6)
    assert "changed while this page was open" in said(services.close_joint, **coop.who, joint=joint, seen=seen)
    put_in(coop, joint, length=D(999))
    assert "Nobody offers" in said(services.close_joint, **coop.who, joint=joint)
    joint.refresh_from_db()
    assert (joint.closed_at, PurchaseOrder.objects.count()) == (None, 0)


def test_past_its_day_it_takes_no_more_with_nobody_having_looked(coop):
    joint = small(coop)
    JointOrder.objects.update(closes_on=coop.today - timedelta(days=1))
    joint.refresh_from_db()
    assert state_of(joint).code == "past"
    assert "so nothing more is put in" in said(put_in, coop, joint)
    assert list(open_joints_of(organisation=coop.organisation)) == []
    given = {"title": "Rails", "need_by": joint.need_by, "delivery_site": coop.site, "damage_rule": "shared"}
    assert services.change_joint(**coop.who, joint=joint, closes_on=joint.closes_on, **given).title == "Rails"
    services.change_joint(**coop.who, joint=joint, closes_on=coop.today, **given)
    joint.refresh_from_db()
    put_in(coop, joint)
    assert state_of(joint).code == "open"


def test_the_command_closes_those_past_their_day_and_tells_what_stays_open(coop):
    joint, empty, later = small(coop), coop.joint(), small(coop)
    JointOrder.objects.exclude(pk=later.pk).update(closes_on=coop.today - timedelta(days=1))
    told = StringIO()
    call_command("close_joint_orders", stdout=told)
    for row in (joint, empty, later):
        row.refresh_from_db()
    assert (bool(joint.closed_at), empty.closed_at, later.closed_at) == (True, None, None)
    assert "closed, with order H1 as drafts" in told.getvalue()
    assert "stays open. No member wants anything yet" in told.getvalue()


def test_opened_again_while_none_went_out(coop):
    joint = small(coop)
    [order] = coop.close(joint, send=False)
    assert "Say why" in said(services.reopen_joint, **coop.who, joint=joint, reason=" ")
    services.reopen_joint(**coop.who, joint=joint, reason="Farm 3 is missing")
    order.refresh_from_db()
    assert order.state == "cancelled"
    put_in(coop, joint, member=2)
    [second] = coop.close(joint)
    assert "went out, so the joint order stays closed" in said(
        services.reopen_joint, **coop.who, joint=joint, reason="too late"
    )
    assert (second.number, joint.purchases.count()) == ("H2", 2)
    with pytest.raises(IntegrityError, match="joint_opened_again_before_it_is_sent"), transaction.atomic():
        JointOrder.objects.update(closed_at=None)


def test_charged_members_keep_it_closed_when_its_order_is_called_off(coop):
    joint = small(coop)
    [order] = coop.close(joint)
    coop.charge(joint)
    cancel_order(**coop.who, order=order, reason="bought elsewhere")
    assert [row.to_post < 0 for row in split_of(joint).rows] == [True, True]
    assert "Members were charged" in said(services.reopen_joint, **coop.who, joint=joint, reason="again")


def test_called_off_nothing_of_it_changes(coop):
    joint = small(coop)
    services.call_off_joint(**coop.who, joint=joint, reason="too few")
    joint.refresh_from_db()
    assert state_of(joint).code == "ended"
    assert "was called off" in said(put_in, coop, joint)
    assert "was called off" in said(services.close_joint, **coop.who, joint=joint)


def test_a_line_that_is_changed_before_or_after_it_went_out_is_told(coop):
    joint = small(coop)
    [order] = coop.close(joint, send=False)
    rails = order.lines.get(material=coop.rail)
    change_line(**coop.who, order=order, line=rails, quantity=50, need_by=order.need_by)
    send_order(**coop.who, order=order, sent_on=coop.today, how="by e-mail")
    page = split_of(joint)
    assert page.remarks == ("Material rail, 10': 50 ordered where members want 55.",)
    got = {row.member.name: row.got[[item.material for item in page.items].index(coop.rail)] for row in page.rows}
    # One fewer each, from the first listed on, round and round.
    assert got == {"Farm 1": 27, "Farm 2": 23}
    order.lines.filter(pk=rails.pk).update(confirmed_quantity=40)
    assert any("confirmed 40 of the 50 ordered" in words for words in split_of(joint).remarks)


def test_members_are_listed_in_another_order(coop):
    joint = small(coop)
    keys = [member.pk for member in coop.members[:2]]
    services.order_members(**coop.who, joint=joint, members=keys[::-1])
    assert [row.member.name for row in joint.members.all()] == ["Farm 2", "Farm 1"]
    assert "came or went" in said(services.order_members, **coop.who, joint=joint, members=keys[:1])
