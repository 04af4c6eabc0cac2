"""Pieces of a joint order are handed out to members, taken back, charged and taken over by their farms."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import DatabaseError, transaction
from django.db.models import Sum
from django.utils import timezone
from openpyxl import load_workbook

from farmbuild.buying.invoices.services import reverse_invoice
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.buying.services import close_short, reverse_receipt
from farmbuild.coop.books.services import NewEntry, post_entries, take_entries_back
from farmbuild.coop.joint import own, services
from farmbuild.coop.joint.files import handing_list_pdf, handing_list_workbook
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.joint.plans import plan_needs_of
from farmbuild.coop.joint.selectors import handouts_of, joints_of_member, state_of
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.law import faults_of as faults_of_members
from farmbuild.coop.models import Handout, JointNeed, MemberEntry, TakenOver
from farmbuild.costs.law import faults_of, sides_of
from farmbuild.orgs.acts import NotAllowed
from farmbuild.plans.models import Plan
from farmbuild.stock.ledger import move_pieces, reverse
from farmbuild.stock.models import Lot, Movement
from tests.coop.joint.making import Cooperative
from tests.coop.joint.test_closing import said
from tests.coop.joint.worked import PIPE, RAIL
from tests.factories import (
    MaterialFactory,
    MemberFarmFactory,
    MembershipFactory,
    MemberSignInFactory,
    OrganisationFactory,
    PlaceFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def coop():
    return Cooperative(members=3)


def came(coop, *pieces, wanted=((6, 0), (4, 0)), rule="listed", **more):
    """A joint order of rails, sent and received: ``pieces`` of its one line."""
    joint = coop.joint(damage_rule=rule)
    for member, (rails, pipes) in enumerate(wanted):
        coop.put_in(joint, member, rails=rails, pipes=pipes)
    [order] = coop.close(joint)
    coop.receive(order, *pieces, **more)
    return joint, order


def got(joint) -> list[int]:
    return [row.got[0] for row in split_of(joint).rows]


def test_handed_out_in_parts_of_several_lots_and_never_more_than_is_due(coop):
    joint, order = came(coop, 5)
    assert state_of(joint).code == "arriving"
    coop.receive(order, 5)
    assert (state_of(joint).code, Lot.objects.count()) == ("arrived", 2)
    assert [row.lot.on_hand for row in Movement.objects.all()] == [5, 5]
    made = coop.hand_out(joint, 0, rail=6)
    assert [(row.quantity, row.signed) for row in made] == [(5, "R. Ramos"), (1, "R. Ramos")]
    assert "gets 6 and has 6 of them, so 1 cannot be handed out" in said(coop.hand_out, joint, 0, rail=1)
    assert [(row.due, row.handed, row.left, row.there) for row in handing_of(joint)] == [(6, 6, 0, 4), (4, 0, 4, 4)]
    assert "cannot be handed out" in said(coop.hand_out, joint, 1, rail=5)


def test_only_what_is_there_is_handed_out_wherever_it_was_moved(coop):
    joint, _ = came(coop, 3)
    assert "3 pieces of this joint order are in stock and free" in said(coop.hand_out, joint, 0, rail=4)
    place = PlaceFactory(organisation=coop.organisation)
    move_pieces(**coop.who, lot=Lot.objects.get(), quantity=3, place=place)
    assert [row.quantity for row in coop.hand_out(joint, 0, rail=3)] == [3]
    assert handouts_of(joint)[0].movement.lot.place == place


def test_one_form_hands_out_once(coop):
    joint, _ = came(coop, 10)
    first = coop.hand_out(joint, 0, press="form", rail=2)
    assert coop.hand_out(joint, 0, press="form", rail=2) == first
    assert Handout.objects.count() == 1


def test_taken_back_once_and_kept(coop):
    joint, _ = came(coop, 10)
    [row] = coop.hand_out(joint, 0)
    lot = Lot.objects.get()
    assert "Take that back where they were handed out" in said(
        reverse, **coop.who, movement=row.movement, reason="wrong"
    )
    assert "Say why" in said(services.take_handout_back, **coop.who, handout=row, reason="")
    services.take_handout_back(**coop.who, handout=row, reason="wrong pile")
    assert "taken back already" in said(services.take_handout_back, **coop.who, handout=row, reason="again")
    lot.refresh_from_db()
    assert (lot.on_hand, handouts_of(joint), Handout.objects.count()) == (10, [], 2)
    assert list(faults_of(organisation=coop.organisation)) == []
    last = Handout.objects.last()
    for change in (last.delete, lambda: Handout.objects.update(quantity=1)):
        with pytest.raises(DatabaseError, match="handout_never"), transaction.atomic():
            change()


def test_who_may_not_move_stock_hands_nothing_out(coop):
    joint, _ = came(coop, 10)
    coop.user = MembershipFactory(organisation=coop.organisation, role="looks").user
    with pytest.raises(NotAllowed):
        coop.hand_out(joint, 0)


@pytest.mark.parametrize(("rule", "pieces"), [("listed", [4, 4, 0]), ("shared", [3, 4, 1]), ("coop", [4, 4, 0])])
def test_damaged_pieces_are_borne_by_the_rule(coop, rule, pieces):
    joint, _ = came(coop, (11, 3), wanted=((5, 0), (5, 0), (1, 0)), rule=rule)
    assert got(joint) == pieces
    assert "3 pieces came damaged" in split_of(joint).remarks[0]


def test_damaged_pieces_that_are_replaced_are_had_after_all(coop):
    joint, order = came(coop, (10, 1))
    assert got(joint) == [5, 4]
    coop.receive(order, 1)
    assert got(joint) == [6, 4]


def test_who_has_more_than_it_gets_by_what_is_known_since_is_told(coop):
    joint, order = came(coop, 8)
    coop.hand_out(joint, 0, rail=6)
    assert "has 2 pieces left" in said(
        reverse_receipt, **coop.who, receipt=order.receipts.get(), reason="counted the wrong pile"
    )
    close_short(**coop.who, order=order, reason="no longer made")
    assert [(row.due, row.handed, row.left, row.over) for row in handing_of(joint)] == [(5, 6, 0, 1), (3, 0, 3, 0)]
    assert split_of(joint).remarks == ("Material rail, 10': 2 pieces will not come.",)


def test_damaged_pieces_that_nobody_credits_are_paid_by_who_gets_fewer_or_by_the_cooperative(coop):
    joint, _ = came(coop, (10, 1), credited=False, short=True)
    assert [(row.got[0], row.goods) for row in split_of(joint).rows] == [(5, D("87.60")), (4, D("58.40"))]
    other, _ = came(coop, (10, 1), credited=False, short=True, rule="coop")
    rows = [(row.member and row.member.name, row.got[0], row.goods) for row in split_of(other).rows]
    assert rows == [("Farm 1", 5, D("73.00")), ("Farm 2", 4, D("58.40")), (None, 0, D("14.60"))]


def test_a_later_bill_with_another_price_is_posted_as_differences(coop):
    joint, order = came(coop, 10)
    first = {row.member: row.amount for row in coop.charge(joint)}
    # 10 at 14.60, tax 9.13, delivery 85.
    assert sum(first.values()) == D("240.13")
    coop.bill(order, [10], prices=["15.00"], tax=D("9.38"), delivery=D("80"))
    more = coop.charge(joint)
    assert [row.source for row in more] == [f"order {joint.pk} part 2"] * 2
    assert more[0].what.endswith(", difference")
    sums = MemberEntry.objects.order_by("member").values_list("member").annotate(sum=Sum("amount"))
    assert sum(amount for _, amount in sums) == D("239.38") == split_of(joint).total
    assert [row.to_post for row in split_of(joint).rows] == [0, 0]
    assert MemberEntry.objects.count() == 4


def test_a_bill_that_comes_after_all_was_handed_out_is_borne_by_the_members(coop):
    joint, order = came(coop, 10)
    for n in range(2):
        coop.hand_out(joint, n)
    invoice = coop.bill(order, [10], prices=["15.00"], tax=D("9.38"), delivery=D("85"))
    sides = sides_of(organisation=coop.organisation)
    assert sides.charged["handed out to members"] == D("244.38") == split_of(joint).total
    assert sides.charged["houses, jobs and general expense"] == sides.difference == 0
    reverse_invoice(**coop.who, invoice=invoice, reason="of another order")
    sides = sides_of(organisation=coop.organisation)
    assert sides.charged["handed out to members"] == D("240.13") == split_of(joint).total
    assert list(faults_of(organisation=coop.organisation)) == []


def test_nothing_is_charged_before_an_order_went_out(coop):
    joint = coop.joint()
    coop.put_in(joint, 0, rails=1)
    coop.close(joint, send=False)
    assert "No order of it went out yet" in said(coop.charge, joint)


@pytest.mark.parametrize(
    ("organisation", "total", "owes"),
    [
        # 10 at 14.60 with the tax in them, and 85.
        ({"prices_include_tax": True}, D("231.00"), [D("138.60"), D("92.40")]),
        # Tax that comes back is nobody's cost: 146.00 and 85.
        ({"recovers_tax": True}, D("231.00"), [D("138.60"), D("92.40")]),
        # Within the prices, and comes back: 146.00 less 8.59.
        ({"prices_include_tax": True, "recovers_tax": True}, D("222.41"), None),
        # Whole yen a line: 146 goods, 9 tax, 85.
        ({"currency": "JPY"}, D("240"), [D("144"), D("96")]),
        ({"currency": "KWD"}, D("240.125"), [D("144.075"), D("96.050")]),
    ],
)
def test_taxes_and_currencies_of_other_cooperatives(organisation, total, owes):
    coop = Cooperative(members=2, **organisation)
    joint, _ = came(coop, 10)
    page = split_of(joint)
    assert page.total == total
    assert owes is None or [row.owes for row in page.rows] == owes
    for n in range(2):
        coop.hand_out(joint, n)
    moved = Movement.objects.filter(kind="handout").aggregate(sum=Sum("amount"))["sum"]
    assert -moved == total
    assert list(faults_of(organisation=coop.organisation)) == []


def test_a_member_with_nothing_and_members_of_two_suppliers(coop):
    other = SupplierFactory(organisation=coop.organisation, delivery_charge=D(10))
    clip = MaterialFactory(organisation=coop.organisation, code="clip", kind="hardware")
    coop.offer(clip, None, {1: "0.333"}, supplier=other)
    joint = coop.joint()
    coop.put_in(joint, 0, rails=2)
    for member, count in ((1, 5), (2, 4)):
        services.put_in(
            **coop.who, joint=joint, member=coop.members[member], material=clip, length=None, quantity=count
        )
    coop.close(joint)
    page = split_of(joint)
    # Clips: 9 at 0.333 are 3.00, tax 0.19, delivery 10.
    assert [row.delivery for row in page.rows] == [D(85), D("5.57"), D("4.43")]
    assert sum(row.owes for row in page.rows[1:]) == D("13.19")


# What a member does itself.


@pytest.fixture
def farm(coop):
    """Of the first member, with somebody who plans there."""
    farm = OrganisationFactory(name="North Farm")
    MemberFarmFactory(member=coop.members[0], farm=farm)
    farm.someone = MembershipFactory(organisation=farm).user
    return farm


def test_a_member_puts_in_for_itself_alone(coop, farm):
    joint = coop.joint()
    thing = {"joint": joint, "material": coop.rail, "length": RAIL[1], "quantity": 4}
    assert own.put_in_own(member=coop.members[0], user=farm.someone, **thing).quantity == 4
    visitor = MemberSignInFactory(member=coop.members[1]).user
    own.put_in_own(member=coop.members[1], user=visitor, **thing)
    for member, user in ((coop.members[1], farm.someone), (coop.members[0], visitor)):
        with pytest.raises(PermissionDenied):
            own.put_in_own(member=member, user=user, **thing)
    assert [row.member for row in JointNeed.objects.order_by("pk")] == coop.members[:2]
    closed = coop.joint()
    coop.put_in(closed, 1, rails=1)
    coop.close(closed)
    assert list(joints_of_member(member=coop.members[0])) == [joint]
    assert list(joints_of_member(member=coop.members[1])) == [closed, joint]


def accepted_plan(farm, *wanted, number=1) -> Plan:
    """With a draft of these materials, lengths and pieces."""
    site = SiteFactory(organisation=farm)
    given = {"as_of": date(2027, 3, 1), "inputs": {}, "inputs_digest": str(number), "result": {}}
    plan = Plan.objects.create(
        organisation=farm,
        number=number,
        name="Spring",
        delivery_site=site,
        state="ready",
        accepted_at=timezone.now(),
        **given,
    )
    sums = dict.fromkeys(["goods", "delivery", "tax", "total"], 0)
    order = PurchaseOrder.objects.create(
        organisation=farm,
        number=f"{number}-1",
        plan=plan,
        supplier=SupplierFactory(organisation=farm),
        delivery_site=site,
        order_by=date(2027, 4, 1),
        need_by=date(2027, 5, 1),
        currency="USD",
        **sums,
    )
    for position, (material, length, count) in enumerate(wanted, 1):
        PurchaseOrderLine.objects.create(
            order=order,
            position=position,
            material=material,
            description=material.name,
            length=length,
            needed=count,
            pack=1,
            quantity=count + 5,
            unit_price=1,
            line_total=count + 5,
            tax=0,
            need_by=order.need_by,
        )
    return plan


def test_the_farm_puts_its_plan_in_matched_by_size_and_nothing_without_its_press(coop, farm):
    joint = coop.joint()
    member = coop.members[0]
    assert plan_needs_of(member=member, joint=joint).plan is None
    rail = MaterialFactory(organisation=farm, code="top-rail")
    own_clip = MaterialFactory(organisation=farm, code="own-clip", name="Own clip", kind="hardware")
    accepted_plan(farm, (rail, RAIL[1], 40), (rail, PIPE[1], 3), (own_clip, None, 7), number=4)
    found = plan_needs_of(member=member, joint=joint)
    assert [(row.material, row.length, row.quantity, row.there) for row in found.rows] == [
        (coop.rail, RAIL[1], 40, 0),
        (coop.rail, PIPE[1], 3, 0),
    ]
    assert found.unmatched == (f"Own clip: 7 wanted, and {coop.organisation} has no such material. Ask there for it.",)
    assert JointNeed.objects.count() == 0
    press = {"member": member, "user": farm.someone, "joint": joint}
    assert "changed while this page was open" in said(own.put_plan_in, **press, plan=4, seen="before")
    for _ in range(2):
        own.put_plan_in(**press, plan=4, seen=found.seen)
    assert [(row.quantity, row.plan) for row in JointNeed.objects.order_by("pk")] == [(40, 4), (3, 4)]
    own.put_in_own(**press, material=coop.pipe, length=PIPE[1], quantity=1)
    accepted_plan(farm, (rail, RAIL[1], 30), number=5)
    own.put_plan_in(**press, plan=5, seen=plan_needs_of(member=member, joint=joint).seen)
    # What was typed stays; what the plan before had, and this one has not, is taken out.
    assert [(row.quantity, row.plan) for row in JointNeed.objects.order_by("pk")] == [(30, 5), (1, None)]


def test_the_farm_takes_over_what_it_got_at_what_it_owes_once(coop, farm):
    joint, _ = came(coop, 10)
    place = PlaceFactory(organisation=farm)
    press = {"member": coop.members[0], "user": farm.someone, "joint": joint, "place": place, "day": coop.today}
    assert "in the farm's stock already" in said(own.take_over, **press)
    coop.hand_out(joint, 0, rail=2)
    coop.hand_out(joint, 0, rail=4)
    assert "has no material that is the same as" in said(own.take_over, **press)
    rail = MaterialFactory(organisation=farm, code="top-rail")
    made = own.take_over(**press)
    owes = split_of(joint).rows[0].owes
    lots = Lot.objects.of(farm)
    assert [(lot.material, lot.on_hand, lot.length) for lot in lots] == [(rail, 2, RAIL[1]), (rail, 4, RAIL[1])]
    assert sum(lot.value for lot in lots) == sum(one.amount for one in made) == owes
    assert "in the farm's stock already" in said(own.take_over, **press)
    assert "stay handed out" in said(services.take_handout_back, **coop.who, handout=made[0].handout, reason="no")
    assert TakenOver.objects.count() == 2
    for organisation in (coop.organisation, farm):
        assert list(faults_of(organisation=organisation)) == []


def test_a_farm_of_another_currency_and_a_member_without_a_farm_are_told(coop, farm):
    joint, _ = came(coop, 10)
    for n in range(2):
        coop.hand_out(joint, n)
    place = PlaceFactory(organisation=farm)
    farm.currency = "EUR"
    farm.save()
    press = {"joint": joint, "place": place, "day": coop.today}
    assert "counts in USD" in said(own.take_over, member=coop.members[0], user=farm.someone, **press)
    visitor = MemberSignInFactory(member=coop.members[1]).user
    assert "No farm on this site" in said(own.take_over, member=coop.members[1], user=visitor, **press)


# Files.


def test_the_list_says_who_gets_what_with_a_line_to_sign(coop):
    joint, _ = came(coop, 10)
    coop.hand_out(joint, 0, rail=2)
    sheet = load_workbook(BytesIO(handing_list_workbook(joint))).active
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=3)]
    assert [name for name in rows[0] if name] == [
        "Member", "What", "Ordered", "Gets", "Handed out", "To hand out", "Day", "Signed",
    ]  # fmt: skip
    assert [row[:6] for row in rows[1:]] == [
        ["Farm 1", "Material rail, 10'", 6, 6, 2, 4],
        ["Farm 2", "Material rail, 10'", 4, 4, 0, 4],
    ]
    pdf = handing_list_pdf(joint)
    assert pdf == handing_list_pdf(joint)
    assert pdf.startswith(b"%PDF")


def test_a_day_to_come_is_refused(coop):
    joint, _ = came(coop, 10)
    need = JointNeed.objects.first()
    with pytest.raises(ValidationError, match="still to come"):
        services.hand_out(
            **coop.who,
            joint=joint,
            member=coop.members[0],
            pieces={need.pk: 1},
            day=coop.today + timedelta(days=1),
            press="x",
        )


# The books.


def test_accounts_are_compared_with_what_is_owed_but_for_what_waits_to_be_charged(coop):
    joint, order = came(coop, 10)
    coop.charge(joint)
    assert list(faults_of_members(organisation=coop.organisation)) == []
    coop.bill(order, [10], prices=["15.00"], tax=D("9.38"), delivery=D("85"))
    # It waits to be charged, which is no fault.
    assert list(faults_of_members(organisation=coop.organisation)) == []
    coop.charge(joint)
    assert list(faults_of_members(organisation=coop.organisation)) == []
    [first, *_] = MemberEntry.objects.filter(member=coop.members[0])
    post_entries(
        **coop.who,
        entries=[NewEntry(coop.members[1], coop.today, MemberEntry.Kind.ORDER, "slip", D(5), f"{first.source} part 9")],
    )
    [words] = faults_of_members(organisation=coop.organisation)
    assert words.startswith(f"Joint order of member {coop.members[1].pk}:")


def test_taken_back_in_an_account_it_waits_to_be_charged_again(coop):
    joint, _ = came(coop, 10)
    first = coop.charge(joint)
    take_entries_back(**coop.who, entries=first[:1], reason="of last year")
    assert [row.to_post for row in split_of(joint).rows] == [first[0].amount, 0]
    assert list(faults_of_members(organisation=coop.organisation)) == []
    [again] = coop.charge(joint)
    assert (again.amount, again.source) == (first[0].amount, f"order {joint.pk} part 2")
