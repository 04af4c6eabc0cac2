"""No more comes back from a house than went out for it; ends of what went out may."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Sum

from farmbuild.plans.bridge import in_house
from farmbuild.stock.ledger import reverse
from farmbuild.stock.models import CostShare
from farmbuild.stock.services import issue_pieces, return_pieces
from tests.factories import FOOT, HouseFactory, LotFactory, MembershipFactory, SiteFactory


@pytest.fixture
def yard(db):
    member = MembershipFactory()
    house = HouseFactory(site=SiteFactory(organisation=member.organisation), name="North 1")
    lot = LotFactory(material=house.recipe.tube, on_hand=20)
    return {"organisation": member.organisation, "user": member.user, "house": house}, lot


def back(yard, lot, quantity):
    return return_pieces(**yard, lot=lot, quantity=quantity, reason="over")


def test_no_more_than_went_out(yard):
    given, lot = yard
    with pytest.raises(ValidationError, match="None of these are out for North 1 by the ledger, so 1 cannot come back"):
        back(given, lot, 1)
    issue_pieces(**given, lot=lot, quantity=5, reason="hoops")
    with pytest.raises(ValidationError, match="5 pieces of these are out for North 1 by the ledger, so 6 cannot"):
        back(given, lot, 6)
    back(given, lot, 4)
    with pytest.raises(ValidationError, match="1 piece of these is out for North 1 by the ledger, so 2 cannot"):
        back(given, lot, 2)
    lot.refresh_from_db()
    assert lot.on_hand == 19 and lot.movements.count() == 3
    [left] = in_house([given["house"]])
    assert left.quantity == 1


def test_into_another_lot_of_the_same_and_not_twice(yard):
    given, lot = yard
    other = LotFactory(material=lot.material, place=lot.place, on_hand=3)
    issue_pieces(**given, lot=lot, quantity=2, reason="hoops")
    back(given, other, 2)
    with pytest.raises(ValidationError, match="None of these are out"):
        back(given, lot, 1)


def test_what_was_reversed_is_not_out(yard):
    given, lot = yard
    movement = issue_pieces(**given, lot=lot, quantity=2, reason="hoops")
    reverse(organisation=given["organisation"], user=given["user"], movement=movement, reason="wrong house")
    with pytest.raises(ValidationError, match="None of these are out"):
        back(given, lot, 1)


def test_an_end_of_what_went_out_comes_back(yard):
    given, lot = yard
    ends = LotFactory(material=lot.material, place=lot.place, length=FOOT * 4, offcut=True, on_hand=1)
    with pytest.raises(ValidationError, match="None of these are out"):
        back(given, ends, 1)
    issue_pieces(**given, lot=lot, quantity=2, reason="braces")
    back(given, ends, 2)
    ends.refresh_from_db()
    assert ends.on_hand == 3


def test_ends_take_no_more_off_a_house_than_it_bears(yard):
    """One stick of 11.00 went out; two ends at 9.00 each are more than that."""
    given, lot = yard
    ends = LotFactory(
        material=lot.material, place=lot.place, length=FOOT * 4, offcut=True, on_hand=1, unit_cost=Decimal(9)
    )
    issue_pieces(**given, lot=lot, quantity=1, reason="braces")
    back(given, ends, 2)
    borne = CostShare.objects.filter(house=given["house"]).aggregate(sum=Sum("amount"))["sum"]
    assert borne == 0


@pytest.mark.django_db(transaction=True)
def test_two_return_the_last_at_once(yard):
    given, lot = yard
    other = LotFactory(material=lot.material, place=lot.place, on_hand=3)
    issue_pieces(**given, lot=lot, quantity=1, reason="hoops")
    start = Barrier(2, timeout=30)

    def press(where):
        try:
            start.wait()
            back(given, where, 1)
        except ValidationError as error:
            return error.messages[0]
        finally:
            connection.close()
        return "back"

    with ThreadPoolExecutor(2) as pool:
        said = sorted(pool.map(press, [lot, other]))
    assert said[1] == "back" and said[0].startswith("None of these are out"), said
