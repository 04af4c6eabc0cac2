"""What was lent may be settled by other pieces: pieces by pieces, or by value with the difference in money."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from farmbuild.coop import law
from farmbuild.coop.models import PipeReturn
from farmbuild.coop.pipe.services import (
    NewReturn,
    agree_for_member,
    agree_to_return,
    record_pipe,
    record_return,
    take_return_back,
    tell_pipe,
    tell_return,
)
from farmbuild.stock.models import Lot
from tests.coop.pipe.making import Two
from tests.factories import MaterialFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(db):
    return Two()


def other(two, quantity, came, **more):
    given = {"material": two.pipe, "length": Decimal(3000), "note": "both were here"} | more
    return NewReturn(quantity, two.today, came=came, **given)


def test_pieces_by_pieces_costs_nobody_anything(two):
    loan = record_pipe(**two.who, new=two.new(6))
    record_return(**two.who, loan=loan, new=other(two, 4, 7))
    assert (two.out(), two.owes(two.bo)) == ([("Bo", "Ana", 2, 0, 2)], 0)
    assert list(law.faults_of(organisation=two.organisation)) == []


@pytest.mark.parametrize(
    ("price", "came_price", "owes"), [("12.755", "5.00", "41.53"), ("5", "12.75", "-59.25"), ("7", "6", "0")]
)
def test_by_value_the_difference_is_owed_in_money(two, price, came_price, owes):
    loan = record_pipe(**two.who, new=two.new(6))
    row = tell_return(
        **two.by(two.bo), loan=loan, new=other(two, 6, 7, price=Decimal(price), came_price=Decimal(came_price))
    )
    assert two.owes(two.bo) == 0
    agree_to_return(**two.by(two.ana), row=row)
    assert (two.owes(two.bo), two.owes(two.ana), two.out()) == (Decimal(owes), -Decimal(owes), [])
    assert list(law.faults_of(organisation=two.organisation)) == []
    take_return_back(**two.who, row=row, reason="told wrong")
    assert (two.owes(two.bo), two.out()) == (0, [("Bo", "Ana", 6, 0, 6)])
    assert list(law.faults_of(organisation=two.organisation)) == []


def test_into_the_common_yard_they_are_a_lot_of_the_lender_s_beside_its_own(two):
    loan = record_pipe(**two.who, new=two.new(6, lot=two.lot))
    row = record_return(**two.who, loan=loan, new=other(two, 6, 7, damaged=2, into_lot=True))
    made = Lot.objects.get(pk=row.movement.lot_id)
    assert (made.on_hand, made.owner, made.material, made.place) == (5, two.ana, two.pipe, two.lot.place)
    assert (made.value, Lot.objects.get(pk=two.lot.pk).on_hand) == (0, 4)
    take_return_back(**two.who, row=row, reason="told wrong")
    assert Lot.objects.get(pk=made.pk).on_hand == 0


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"material": None}, "Choose the material"),
        ({"length": None}, "comes by length"),
        ({"price": Decimal(5)}, "takes both prices"),
        ({"came_price": Decimal(5)}, "takes both prices"),
        ({"came_price": Decimal(-5)}, "above 0"),
        ({"damaged": 8}, "no more than came back"),
        ({"note": ""}, "how both agreed"),
        ({"came": 0}, "whole number"),
        ({"stranger": True}, "Choose one from the list"),
    ],
)
def test_what_cannot_be_is_refused(two, more, words):
    loan = record_pipe(**two.who, new=two.new(6))
    more = dict(more)
    if more.pop("stranger", None):
        more["material"] = MaterialFactory()
    with pytest.raises(ValidationError, match=words):
        record_return(**two.who, loan=loan, new=other(two, 6, more.pop("came", 7), **more))
    assert not PipeReturn.objects.exists()


def test_the_manager_agrees_for_a_member_who_signs_nowhere_in(two):
    loan = tell_pipe(**two.by(two.ana), new=two.new(4, lot=two.lot))
    agree_for_member(**two.who, row=loan)
    assert two.out() == [("Bo", "Ana", 4, 0, 4)]
    row = tell_return(**two.by(two.ana), loan=loan, new=NewReturn(3, two.today, into_lot=True))
    agree_for_member(**two.who, row=row)
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([("Bo", "Ana", 1, 0, 1)], 9)
    for again in (loan, row):
        with pytest.raises(ValidationError, match="nothing here to agree to"):
            agree_for_member(**two.who, row=again)


def test_the_database_holds_it_too(two):
    loan = record_pipe(**two.who, new=two.new(6))
    record_return(**two.who, loan=loan, new=other(two, 1, 2))
    base = {"organisation": two.organisation, "loan": loan, "quantity": 1, "day": two.today}
    strange = MaterialFactory()
    wrong = {
        "pipe_return_other_never_edited": lambda: PipeReturn.objects.update(came=3),
        "pipe_return_other_of_one_cooperative": lambda: PipeReturn.objects.create(**base, came=2, material=strange),
        "pipe_return_in_kind_or_money": lambda: PipeReturn.objects.create(**base, material=two.pipe),
    }
    for guard, press in wrong.items():
        with pytest.raises(IntegrityError, match=guard), transaction.atomic():
            press()
    assert PipeReturn.objects.get().came == 2
