"""Several at once say of pipe that it is so, in threads with connections of their own: it counts once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.coop import law
from farmbuild.coop.models import MemberEntry, PipeReturn
from farmbuild.coop.pipe.own import end_own_leave, give_own_leave
from farmbuild.coop.pipe.services import (
    NewReturn,
    agree_for_member,
    agree_to_pipe,
    agree_to_return,
    record_pipe,
    take_pipe_back,
    tell_pipe,
    tell_return,
    withdraw_told,
)
from farmbuild.stock.models import Lot
from tests.coop.pipe.making import Two

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def at_once(*works):
    """How many of ``works`` were done, in a thread each that start together; a refusal in words is none."""
    start = Barrier(len(works), timeout=30)

    def alone(work):
        try:
            start.wait()
            work()
        except ValidationError:
            return 0
        finally:
            connection.close()
        return 1

    with ThreadPoolExecutor(len(works)) as pool:
        return sum(pool.map(alone, works))


@pytest.fixture
def two(db):
    return Two()


def faults(two):
    return list(law.faults_of(organisation=two.organisation))


def test_two_agree_at_once_and_it_counts_once(two):
    given = {"kind": "given", "price": Decimal("12.75"), "lot": two.lot}
    loan = tell_pipe(**two.by(two.ana), new=two.new(4, **given))
    agree = lambda: agree_to_pipe(**two.by(two.bo), loan=loan)  # noqa: E731
    assert at_once(agree, agree, lambda: agree_for_member(**two.who, row=loan)) == 1
    assert (two.owes(two.bo), MemberEntry.objects.count()) == (Decimal("51.00"), 2)
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 6
    assert faults(two) == []


def test_one_agrees_while_the_other_withdraws(two):
    loan = tell_pipe(**two.by(two.ana), new=two.new(4, lot=two.lot))
    done = at_once(
        lambda: agree_to_pipe(**two.by(two.bo), loan=loan), lambda: withdraw_told(**two.by(two.ana), row=loan)
    )
    loan.refresh_from_db()
    assert done == 1 and bool(loan.agreed_at) != bool(loan.back_at)
    assert Lot.objects.get(pk=two.lot.pk).on_hand == (6 if loan.agreed_at else 10)


def test_returns_that_are_told_at_once_settle_no_more_than_was_lent(two):
    loan = record_pipe(**two.who, new=two.new(5, lot=two.lot))
    tell = [
        lambda who=who: tell_return(**two.by(who), loan=loan, new=NewReturn(3, two.today, price=Decimal(2)))
        for who in (two.ana, two.bo, two.ana)
    ]
    assert at_once(*tell) == 1
    row = PipeReturn.objects.get()
    other = two.bo if row.asked_of_id == two.bo.pk else two.ana
    agree = lambda: agree_to_return(**two.by(other), row=row)  # noqa: E731
    back = lambda: take_pipe_back(**two.who, loan=loan, reason="told wrong")  # noqa: E731
    assert at_once(agree, agree, back) == 1
    assert two.owes(two.bo) == Decimal("6.00") and faults(two) == []


def test_leave_that_is_given_and_ended_at_once(two):
    leave = give_own_leave(**two.by(two.ana), lot=two.lot, quantity=4)
    end = lambda: end_own_leave(**two.by(two.ana), leave=leave)  # noqa: E731
    give = lambda: give_own_leave(**two.by(two.ana), lot=two.lot, quantity=3)  # noqa: E731
    assert at_once(end, end, give) in (1, 2)
    assert two.lot.leaves.filter(ended_at=None, quantity=3).count() == 1
