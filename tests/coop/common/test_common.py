"""Common stock open to members: kept for who wishes, handed over with what is owed, never promised twice."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import connection

from farmbuild.coop import law
from farmbuild.coop.common.opening import open_pieces
from farmbuild.coop.common.selectors import offers_to
from farmbuild.coop.common.services import (
    decline_wish,
    end_offer,
    give_wish,
    open_lot,
    promised_again,
    wish_for,
    withdraw_wish,
)
from farmbuild.coop.models import CommonOffer, CommonWish, MemberEntry, MemberFarm
from farmbuild.orgs.clock import today_of
from farmbuild.stock.cost_selectors import stock_books
from farmbuild.stock.services import adjust_by_count, issue_pieces, receive_lot
from tests.coop.common.making import Common
from tests.factories import MaterialFactory, MembershipFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def common():
    return Common()


def test_what_is_wished_for_is_kept_and_nobody_else_gets_it(common):
    offer = common.open(12)
    wish_for(**common.by(common.ana), offer=offer, quantity=9)
    assert common.now() == (20, 9, 11)
    with pytest.raises(ValidationError, match="3 pieces of it are free"):
        wish_for(**common.by(common.bo), offer=offer, quantity=4)
    with pytest.raises(ValidationError, match=r"9 of lot .* are kept for members"):
        issue_pieces(**common.who, lot=common.lot, quantity=12, reason="gate")
    with pytest.raises(ValidationError, match="kept for members"):
        adjust_by_count(**common.who, lot=common.lot, counted=8, seen=20, reason="gone")
    issue_pieces(**common.who, lot=common.lot, quantity=11, reason="gate")
    assert promised_again(organisation=common.organisation) == {common.lot.pk: 9}


def test_one_press_hands_over_books_and_owes(common):
    offer = common.open(12, price=Decimal("12.335"))
    before = stock_books(organisation=common.organisation)
    wish = wish_for(**common.by(common.ana), offer=offer, quantity=3)
    give_wish(**common.who, wish=wish)

    after = stock_books(organisation=common.organisation)
    [entry] = MemberEntry.objects.all()
    assert (entry.member, entry.kind, entry.amount) == (common.ana, "stock", Decimal("37.01"))
    assert common.now() == (17, 0, 17)
    assert (after.members - before.members, after.off) == (Decimal("33.00"), 0)
    assert list(law.faults_of(organisation=common.organisation)) == []
    with pytest.raises(ValidationError, match="given already"):
        give_wish(**common.who, wish=wish)
    offer.refresh_from_db()
    assert (offer.free, offer.given, offer.wished) == (9, 3, 0)


def test_a_farm_has_it_in_its_own_stock_at_that_price(common):
    person = MembershipFactory()
    farm = person.organisation
    MemberFarm.objects.create(organisation=common.organisation, member=common.ana, farm=farm)
    MaterialFactory(organisation=farm, code=common.lot.material.code)
    wish = wish_for(member=common.ana, user=person.user, offer=common.open(price=Decimal(14)), quantity=5)
    got = give_wish(**common.who, wish=wish).farm_lot
    assert (got.organisation, got.on_hand, got.value, got.unit_cost) == (farm, 5, Decimal(70), 14)


def test_it_is_open_on_its_last_day(common):
    today = today_of(organisation=common.organisation)
    offer = common.open(12, until=today)
    assert wish_for(**common.by(common.ana), offer=offer, quantity=1).quantity == 1
    CommonOffer.objects.update(until=today - timedelta(days=1))
    with pytest.raises(ValidationError, match="not open any more"):
        wish_for(**common.by(common.ana), offer=offer, quantity=1)
    end_offer(**common.who, offer=offer)
    with pytest.raises(ValidationError, match="Type a day from today on"):
        common.open(2, until=today - timedelta(days=1))


def test_declined_and_withdrawn_are_free_again(common):
    offer = common.open(12)
    first = wish_for(**common.by(common.ana), offer=offer, quantity=5)
    second = wish_for(**common.by(common.bo), offer=offer, quantity=6)
    with pytest.raises(ValidationError, match="Say why"):
        decline_wish(**common.who, wish=first, reason="")
    decline_wish(**common.who, wish=first, reason="needed here")
    with pytest.raises(ValidationError, match="another member"):
        withdraw_wish(**common.by(common.ana), wish=second)
    withdraw_wish(**common.by(common.bo), wish=second)
    assert common.now() == (20, 0, 20)
    with pytest.raises(ValidationError, match="withdrawn already"):
        give_wish(**common.who, wish=second)
    assert not MemberEntry.objects.exists()


def test_it_is_open_to_those_it_was_opened_to(common):
    offer = common.open(12, members=[common.ana])
    assert [row.pk for row in offers_to(member=common.ana)] == [offer.pk]
    assert list(offers_to(member=common.bo)) == []
    with pytest.raises(ValidationError, match="not open any more"):
        wish_for(**common.by(common.bo), offer=offer, quantity=1)
    with pytest.raises(PermissionDenied):
        wish_for(member=common.ana, user=common.users[common.bo.pk], offer=offer, quantity=1)
    wish = wish_for(**common.by(common.ana), offer=offer, quantity=2)
    end_offer(**common.who, offer=offer)
    assert list(offers_to(member=common.ana)) == []
    with pytest.raises(ValidationError, match="not open any more"):
        wish_for(**common.by(common.ana), offer=offer, quantity=1)
    give_wish(**common.who, wish=wish)


def test_only_free_pieces_of_its_own_are_opened(common):
    with pytest.raises(ValidationError, match=r"Free of lot .*: 20 pieces\."):
        common.open(21)
    common.open(3)
    with pytest.raises(ValidationError, match="open already"):
        common.open(3)
    mine = receive_lot(
        **common.who,
        material=common.lot.material,
        length=common.lot.length,
        quantity=2,
        place=common.lot.place,
        received_on=common.lot.received_on,
        owner=common.ana,
    )
    with pytest.raises(ValidationError, match="a member's own"):
        open_lot(**common.who, lot=mine, quantity=1)


@pytest.mark.django_db(transaction=True)
def test_two_who_wish_at_once_never_get_the_same_pieces():
    common = Common()
    offer = common.open(10)

    def wish(member):
        try:
            return wish_for(**common.by(member), offer=offer, quantity=4).quantity
        except ValidationError:
            return 0
        finally:
            connection.close()

    def give(row):
        try:
            give_wish(**common.who, wish=row)
        except ValidationError as error:
            return str(error)
        finally:
            connection.close()
        return "given"

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(wish, [common.ana, common.bo, common.ana, common.bo])) == [0, 0, 4, 4]
        wishes = list(CommonWish.objects.select_related("offer__lot"))
        found = list(pool.map(give, [*wishes, *wishes]))
    assert found.count("given") == 2
    assert common.now() == (12, 0, 12)
    assert sum(MemberEntry.objects.values_list("amount", flat=True)) == Decimal("88.00")


@pytest.mark.django_db(transaction=True)
def test_pieces_that_two_open_at_once_are_opened_once():
    common = Common()

    def open_some(_):
        try:
            opened = open_pieces(
                **common.who, material=common.lot.material, length=common.lot.length, quantity=12, price=Decimal(3)
            )
            return sum(offer.quantity for offer in opened)
        except ValidationError as error:
            assert "not open yet" in str(error)
            return 0
        finally:
            connection.close()

    with ThreadPoolExecutor(3) as pool:
        assert sorted(pool.map(open_some, range(3))) == [0, 0, 12]
    assert CommonOffer.objects.get().quantity == 12
