"""Pipe between members: what counts and what does not yet, what is owed both ways, and what goes through the books."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from farmbuild.coop import law
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe.selectors import pipe_of, pipe_of_member
from farmbuild.coop.pipe.services import (
    NewReturn,
    agree_to_pipe,
    agree_to_return,
    record_pipe,
    record_return,
    take_pipe_back,
    take_return_back,
    tell_pipe,
    tell_return,
    withdraw_told,
)
from farmbuild.stock.models import Lot
from farmbuild.stock.owners.services import give_leave
from tests.coop.pipe.making import Two
from tests.factories import MemberFactory, MemberSignInFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def two():
    return Two()


def test_what_is_owed_both_ways_and_net(two):
    record_pipe(**two.who, new=two.new(7))
    record_pipe(**two.who, new=two.new(3, lender=two.bo, borrower=two.ana))
    assert two.out() == [("Bo", "Ana", 7, 3, 4)]
    loan = pipe_of(organisation=two.organisation).get(lender=two.ana)
    record_return(**two.who, loan=loan, new=NewReturn(5, two.today))
    assert two.out() == [("Ana", "Bo", 3, 2, 1)]


def test_what_one_of_them_tells_counts_once_the_other_agrees(two):
    loan = tell_pipe(**two.by(two.bo), new=two.new(4, lot=two.lot))
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([], 10)
    with pytest.raises(ValidationError, match="nothing here to agree to"):
        agree_to_pipe(**two.by(two.bo), loan=loan)
    agree_to_pipe(**two.by(two.ana), loan=loan)
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([("Bo", "Ana", 4, 0, 4)], 6)
    with pytest.raises(ValidationError, match="nothing here to agree to"):
        agree_to_pipe(**two.by(two.ana), loan=loan)


def test_the_other_may_say_that_it_is_not_so(two):
    loan = tell_pipe(**two.by(two.bo), new=two.new(4))
    withdraw_told(**two.by(two.ana), row=loan)
    with pytest.raises(ValidationError, match="nothing here to agree to"):
        agree_to_pipe(**two.by(two.ana), loan=loan)
    assert PipeLoan.objects.get().back_because == "not so, says Ana"


def test_nobody_tells_for_others(two):
    third = MemberFactory(organisation=two.organisation)
    two.users[third.pk] = MemberSignInFactory(member=third).user
    with pytest.raises(ValidationError, match="You can only tell of pipe"):
        tell_pipe(**two.by(third), new=two.new(1))
    with pytest.raises(PermissionDenied):
        tell_pipe(member=two.ana, user=two.users[two.bo.pk], new=two.new(1))
    loan = record_pipe(**two.who, new=two.new(1))
    with pytest.raises(ValidationError, match="between two others"):
        tell_return(**two.by(third), loan=loan, new=NewReturn(1, two.today))
    assert list(pipe_of_member(member=third)) == []
    assert list(pipe_of_member(member=two.bo)) == [loan]


def test_pieces_come_back_in_parts_into_the_lender_s_lot(two):
    loan = record_pipe(**two.who, new=two.new(6, lot=two.lot))
    record_return(**two.who, loan=loan, new=NewReturn(2, two.today, damaged=1, into_lot=True))
    last = record_return(**two.who, loan=loan, new=NewReturn(4, two.today, into_lot=True))
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 10 - 6 + 1 + 4
    with pytest.raises(ValidationError, match="0 pieces of this loan are still out"):
        record_return(**two.who, loan=loan, new=NewReturn(1, two.today))
    take_return_back(**two.who, row=last, reason="counted wrong")
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([("Bo", "Ana", 4, 0, 4)], 5)
    with pytest.raises(ValidationError, match="taken back already"):
        take_return_back(**two.who, row=last, reason="again")
    with pytest.raises(ValidationError, match="Take that back first"):
        take_pipe_back(**two.who, loan=loan, reason="wrong")


def test_what_does_not_come_back_is_turned_into_money_that_both_agree_to(two):
    loan = record_pipe(**two.who, new=two.new(6))
    row = tell_return(**two.by(two.bo), loan=loan, new=NewReturn(3, two.today, price=Decimal("12.75")))
    assert (two.owes(two.bo), two.out()) == (0, [("Bo", "Ana", 6, 0, 6)])
    agree_to_return(**two.by(two.ana), row=row)
    assert (two.owes(two.bo), two.owes(two.ana)) == (Decimal("38.25"), Decimal("-38.25"))
    assert two.out() == [("Bo", "Ana", 3, 0, 3)]
    with pytest.raises(ValidationError, match="how both agreed"):
        record_return(**two.who, loan=loan, new=NewReturn(1, two.today, price=Decimal(1)))
    assert list(law.faults_of(organisation=two.organisation)) == []
    take_return_back(**two.who, row=row, reason="the price was another")
    assert (two.owes(two.bo), two.owes(two.ana)) == (0, 0)
    assert list(law.faults_of(organisation=two.organisation)) == []


def test_a_present_and_what_is_given_for_money(two):
    record_pipe(**two.who, new=two.new(2, kind="given", lot=two.lot))
    assert (two.owes(two.bo), two.out()) == (0, [])
    sold = record_pipe(**two.who, new=two.new(3, kind="given", price=Decimal("11.335")))
    assert (two.owes(two.bo), two.owes(two.ana)) == (Decimal("34.01"), Decimal("-34.01"))
    assert sum(two.owes(member) for member in (two.ana, two.bo)) == 0
    with pytest.raises(ValidationError, match="does not come back"):
        record_return(**two.who, loan=sold, new=NewReturn(1, two.today))
    take_pipe_back(**two.who, loan=sold, reason="was a present")
    assert (two.owes(two.bo), two.owes(two.ana)) == (0, 0)
    with pytest.raises(ValidationError, match="taken back already"):
        take_pipe_back(**two.who, loan=sold, reason="again")


def test_a_loan_that_is_taken_back_is_in_its_lot_again(two):
    loan = record_pipe(**two.who, new=two.new(6, lot=two.lot))
    take_pipe_back(**two.who, loan=loan, reason="never fetched")
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([], 10)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"quantity": 0}, "whole number"),
        ({"quantity": 11, "own": True}, "has 10 pieces"),
        ({"note": " "}, "how they told it"),
        ({"price": Decimal(1)}, "has no price"),
        ({"late": True}, "Type today"),
        ({"same": True}, "another member"),
        ({"others": True}, "not those of"),
        ({"stranger": True}, "Choose one from the list"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(two, more, words):
    more = dict(more)
    if more.pop("own", None):
        more["lot"] = two.lot
    if more.pop("late", None):
        more["day"] = two.today + timedelta(days=1)
    if more.pop("same", None):
        more["borrower"] = two.ana
    if more.pop("others", None):
        more |= {"lot": two.lot, "lender": two.bo, "borrower": two.ana}
    if more.pop("stranger", None):
        more["borrower"] = MemberFactory()
    new = two.new(more.pop("quantity", 1), **more)
    with pytest.raises(ValidationError, match=words):
        record_pipe(**two.who, new=new)
    assert not PipeLoan.objects.exists()
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 10


def test_the_database_holds_it_too(two):
    loan = record_pipe(**two.who, new=two.new(2))
    row = record_return(**two.who, loan=loan, new=NewReturn(1, two.today))
    wrong = {
        "pipe_never_edited": lambda: PipeLoan.objects.update(quantity=3),
        "pipe_return_never_deleted": lambda: PipeReturn.objects.all().delete(),
        "pipe_return_never_edited": lambda: PipeReturn.objects.update(quantity=2),
        "pipe_return_no_more_than_lent": lambda: PipeReturn.objects.create(
            organisation=two.organisation, loan=loan, quantity=2, day=two.today
        ),
    }
    for guard, press in wrong.items():
        with pytest.raises(IntegrityError, match=guard), transaction.atomic():
            press()
    assert row.quantity == 1


def test_leave_that_the_borrower_had_stands_after_a_loan(two):
    give_leave(**two.who, lot=two.lot, quantity=5, member=two.bo, until=two.today, told="by telephone")
    loan = record_pipe(**two.who, new=two.new(6, lot=two.lot))
    standing = [(row.member, row.quantity, row.until) for row in two.lot.leaves.filter(ended_at=None)]
    assert standing == [(two.bo, 4, two.today)]
    take_pipe_back(**two.who, loan=loan, reason="never fetched")
    assert [row.quantity for row in two.lot.leaves.filter(ended_at=None)] == [4]
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 10
