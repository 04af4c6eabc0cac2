"""What is a member's in the common yard: whose it stays, what it is worth, and who takes it out."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction

from farmbuild.orgs.clock import today_of
from farmbuild.stock.cost_selectors import stock_books
from farmbuild.stock.cutting import cut_sticks
from farmbuild.stock.leave import leave_for_whoever, leaves_in_force, move_leave, standing_leaves
from farmbuild.stock.ledger import hand_out_pieces, lend_pieces, move_pieces, reverse
from farmbuild.stock.models import Leave, Lot, Movement
from farmbuild.stock.owners.services import end_leave, give_leave, hand_to_member, record_leave
from farmbuild.stock.services import (
    adjust_by_count,
    change_lot,
    issue_pieces,
    receive_lot,
    return_pieces,
    scrap,
)
from tests.factories import HouseFactory, LotFactory, MaterialFactory, MemberFactory, MembershipFactory, PlaceFactory

pytestmark = pytest.mark.django_db
TOLD = {"told": "by telephone on Monday"}


def lot_of(organisation, **more):
    """Of the organisation's own."""
    place = PlaceFactory(organisation=organisation)
    return LotFactory(material=MaterialFactory(organisation=organisation), place=place, **more)


@pytest.fixture
def owned():
    """Ten sticks of a member in the common yard, with who works there."""
    person = MembershipFactory()
    lot = lot_of(person.organisation)
    member = MemberFactory(organisation=person.organisation, name="Ana Ruiz")
    mine = receive_lot(
        organisation=person.organisation,
        user=person.user,
        material=lot.material,
        length=lot.length,
        quantity=10,
        place=lot.place,
        received_on=lot.received_on,
        owner=member,
    )
    return {"organisation": person.organisation, "user": person.user}, mine, member


def out_of(who, lot, house):
    """Every way by which pieces go out: name, and the press."""
    return {
        "issue": lambda: issue_pieces(**who, lot=lot, quantity=2, reason="", house=house),
        "issue for nobody": lambda: issue_pieces(**who, lot=lot, quantity=2, reason=""),
        "scrap": lambda: scrap(**who, lot=lot, quantity=2, reason="bent"),
        "cut": lambda: cut_sticks(**who, lot=lot, sticks=2, pieces=[lot.length / 3]),
        "lend": lambda: lend_pieces(**who, lot=lot, quantity=2, borrower="Bo"),
        "hand out": lambda: hand_out_pieces(**who, lot=lot, quantity=2, reason="for Bo"),
        "hand to another": lambda: hand_to_member(
            **who, lot=lot, quantity=2, member=MemberFactory(organisation=who["organisation"])
        ),
    }


WAYS = ["issue", "issue for nobody", "scrap", "cut", "lend", "hand out", "hand to another"]


@pytest.mark.parametrize("way", WAYS)
def test_nothing_of_a_member_goes_out_without_leave(owned, way):
    who, lot, _member = owned
    house = HouseFactory(site__organisation=who["organisation"])

    with pytest.raises(ValidationError, match=r"those of Ana Ruiz, and no leave is given") as refused:
        out_of(who, lot, house)[way]()

    assert "record the leave on the page of the lot" in str(refused.value)
    assert Lot.objects.get(pk=lot.pk).on_hand == 10
    assert Movement.objects.filter(lot=lot).count() == 1


@pytest.mark.parametrize("way", WAYS)
def test_with_leave_they_go_out_and_use_it_up(owned, way):
    who, lot, _member = owned
    house = HouseFactory(site__organisation=who["organisation"])
    record_leave(**who, lot=lot, quantity=3, **TOLD)

    out_of(who, lot, house)[way]()

    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk]) == {lot.pk: 1}
    with pytest.raises(ValidationError, match=r"leave is given for 1 piece, which does not cover 2"):
        out_of(who, lot, house)[way]()


def test_the_owner_takes_its_own_without_leave(owned):
    who, lot, member = owned

    movement, kept = hand_to_member(**who, lot=lot, quantity=4, member=member)

    assert (movement.quantity, movement.member, movement.leave, kept) == (-4, member, None, None)
    assert Lot.objects.get(pk=lot.pk).on_hand == 6


def test_leave_for_one_house_serves_no_other(owned):
    who, lot, _member = owned
    north, creek = HouseFactory.create_batch(2, site__organisation=who["organisation"])
    record_leave(**who, lot=lot, quantity=5, house=north, **TOLD)

    with pytest.raises(ValidationError, match=f"leave is given for 5 pieces for {north}"):
        issue_pieces(**who, lot=lot, quantity=1, reason="", house=creek)
    assert issue_pieces(**who, lot=lot, quantity=5, reason="", house=north).leave.house == north


def test_leave_is_over_after_its_last_day_and_when_it_is_ended(owned, monkeypatch):
    who, lot, _member = owned
    today = today_of(organisation=who["organisation"])
    leave = record_leave(**who, lot=lot, quantity=5, until=today, **TOLD)
    assert issue_pieces(**who, lot=lot, quantity=1, reason="").leave == leave
    monkeypatch.setattr("farmbuild.stock.leave.today_of", lambda **_: today + timedelta(days=1))

    with pytest.raises(ValidationError, match="its leave was until"):
        issue_pieces(**who, lot=lot, quantity=1, reason="")

    monkeypatch.undo()
    end_leave(**who, leave=leave, reason="needed elsewhere")
    with pytest.raises(ValidationError, match="no leave is given"):
        issue_pieces(**who, lot=lot, quantity=1, reason="")
    with pytest.raises(ValidationError, match="has ended already"):
        end_leave(**who, leave=leave, reason="again")


def test_leave_says_how_it_was_told_and_is_for_no_more_than_is_there(owned):
    who, lot, member = owned
    with pytest.raises(ValidationError, match="Say how the owner told it"):
        record_leave(**who, lot=lot, quantity=1, told=" ")
    with pytest.raises(ValidationError, match="has 10 pieces"):
        record_leave(**who, lot=lot, quantity=11, **TOLD)
    with pytest.raises(ValidationError, match="your own"):
        record_leave(**who, lot=lot_of(who["organisation"]), quantity=1, **TOLD)
    with pytest.raises(ValidationError, match="without leave"):
        record_leave(**who, lot=lot, quantity=1, member=member, **TOLD)
    record_leave(**who, lot=lot, quantity=2, **TOLD)
    record_leave(**who, lot=lot, quantity=7, **TOLD)
    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk]) == {lot.pk: 7}


def test_what_is_cut_or_moved_stays_the_owners_and_takes_its_leave_along(owned):
    who, lot, member = owned
    house = HouseFactory(site__organisation=who["organisation"])
    record_leave(**who, lot=lot, quantity=10, **TOLD)
    there = move_pieces(**who, lot=lot, quantity=10, place=PlaceFactory(organisation=who["organisation"]))
    done = cut_sticks(**who, lot=there, sticks=4, pieces=[lot.length / 3])
    ours = cut_sticks(**who, lot=there, sticks=1, pieces=[lot.length / 4], house=house)

    assert {one.owner for one in (there, *done.pieces, done.offcut, *ours.pieces)} == {member}
    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk, there.pk, done.pieces[0].pk]) == {
        there.pk: 5,
        done.pieces[0].pk: 4,
    }
    assert leaves_in_force(organisation=who["organisation"], lots=[done.offcut.pk]) == []
    assert Lot.objects.get(pk=ours.pieces[0].pk).on_hand == 0


def test_part_of_a_lot_is_moved_without_its_leave(owned):
    who, lot, _member = owned
    record_leave(**who, lot=lot, quantity=6, **TOLD)
    there = move_pieces(**who, lot=lot, quantity=4, place=PlaceFactory(organisation=who["organisation"]))
    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk, there.pk]) == {lot.pk: 6}


def test_no_more_leave_goes_along_than_for_what_is_held(owned):
    who, lot, _member = owned
    house = HouseFactory(site__organisation=who["organisation"])
    there = receive_lot(
        **who, material=lot.material, length=lot.length, quantity=4, place=lot.place, received_on=lot.received_on,
        owner=lot.owner,
    )  # fmt: skip
    record_leave(**who, lot=lot, quantity=2, house=house, **TOLD)
    record_leave(**who, lot=lot, quantity=6, **TOLD)
    move_leave(lot, there, 3)
    assert [row.left for row in standing_leaves([lot.pk])] == [5]
    assert [(row.house, row.left) for row in standing_leaves([there.pk])] == [(house, 2), (None, 1)]


def test_pieces_that_come_back_may_be_taken_again(owned):
    who, lot, _member = owned
    house = HouseFactory(site__organisation=who["organisation"])
    record_leave(**who, lot=lot, quantity=6, **TOLD)
    issue_pieces(**who, lot=lot, quantity=6, reason="", house=house)
    return_pieces(**who, lot=lot, quantity=2, reason="too many", house=house)
    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk]) == {lot.pk: 2}
    again = issue_pieces(**who, lot=lot, quantity=1, reason="")
    reverse(**who, movement=again, reason="wrong lot")
    assert leave_for_whoever(organisation=who["organisation"], lots=[lot.pk]) == {lot.pk: 2}


def test_a_member_s_pieces_are_worth_nothing_in_the_books(owned):
    who, lot, member = owned
    house = HouseFactory(site__organisation=who["organisation"])
    own = lot_of(who["organisation"], unit_cost=Decimal("12.75"), on_hand=8)
    before = stock_books(organisation=who["organisation"])
    record_leave(**who, lot=lot, quantity=9, **TOLD)
    issue_pieces(**who, lot=lot, quantity=5, reason="", house=house)
    return_pieces(**who, lot=lot, quantity=1, reason="", house=house)
    adjust_by_count(**who, lot=lot, counted=5, seen=6, reason="one is missing")

    assert stock_books(organisation=who["organisation"]) == before
    assert Lot.objects.get(pk=lot.pk).owner == member
    with pytest.raises(ValidationError, match="Leave the cost empty"):
        change_lot(**who, lot=lot, data={"unit_cost": Decimal(3)}, reason="invoice")
    with pytest.raises(ValidationError, match="Leave the cost empty"):
        receive_lot(
            **who,
            material=own.material,
            length=own.length,
            quantity=1,
            place=own.place,
            received_on=own.received_on,
            unit_cost=Decimal(1),
            owner=member,
        )


def test_what_becomes_a_member_s_leaves_the_books_at_its_cost(owned):
    who, lot, member = owned
    own = lot_of(who["organisation"], unit_cost=Decimal("12.75"), on_hand=8, length=lot.length)
    before = stock_books(organisation=who["organisation"])

    movement, kept = hand_to_member(**who, lot=own, quantity=3, member=member, place=own.place)

    after = stock_books(organisation=who["organisation"])
    assert (kept.owner, kept.on_hand, kept.value) == (member, 3, 0)
    assert movement.amount == Decimal("-38.25")
    assert (after.members - before.members, before.on_hand - after.on_hand) == (Decimal("38.25"),) * 2
    assert after.off == before.off == 0
    assert after.general == before.general


def test_nobody_names_a_member_of_others(owned):
    who, lot, _member = owned
    with pytest.raises(ValidationError, match="Choose one from the list"):
        hand_to_member(**who, lot=lot, quantity=1, member=MemberFactory())
    with pytest.raises(Lot.DoesNotExist):
        give_leave(organisation=MembershipFactory().organisation, user=None, lot=lot, quantity=1)


@pytest.mark.parametrize(
    ("wrong", "guard"),
    [
        (lambda lot, other: Lot.objects.filter(pk=lot.pk).update(owner=None), "lot_owner_stays"),
        (lambda lot, other: Lot.objects.filter(pk=lot.pk).update(unit_cost=1), "lot_"),
        (
            lambda lot, other: Movement.objects.bulk_create([Movement(lot=lot, kind="issue", quantity=-1)]),
            "movement_of_the_owner_or_with_leave",
        ),
        (
            lambda lot, other: Movement.objects.bulk_create(
                [Movement(lot=lot, kind="handout", quantity=-1, member=other)]
            ),
            "movement_of_the_owner_or_with_leave",
        ),
        (
            lambda lot, other: Movement.objects.bulk_create(
                [Movement(lot=lot, kind="issue", quantity=-1, member=other)]
            ),
            "movement_",
        ),
        (lambda lot, other: Leave.objects.filter(lot=lot).update(quantity=9), "leave_is_lowered_or_ended"),
        (lambda lot, other: Leave.objects.filter(lot=lot).update(told="x"), "leave_is_lowered_or_ended"),
        (lambda lot, other: Leave.objects.filter(lot=lot).delete(), "leave_never_deleted"),
    ],
)
def test_the_database_holds_it_too(owned, wrong, guard):
    who, lot, _member = owned
    record_leave(**who, lot=lot, quantity=2, **TOLD)
    other = MemberFactory(organisation=who["organisation"])
    with pytest.raises(IntegrityError, match=guard), transaction.atomic():
        wrong(lot, other)
        connection.check_constraints()
