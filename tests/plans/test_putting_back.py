"""What a house has or holds too much of goes back in one press, or it is said why not."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.balance import balances
from farmbuild.plans.putting_back import BENT, CUT, put_back, too_much_rows
from farmbuild.sites.models import House
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.cutting import cut_sticks
from farmbuild.stock.models import Lot, Movement, Reservation
from farmbuild.stock.services import issue_pieces
from tests.factories import FOOT, LotFactory, MembershipFactory
from tests.plans.test_outdated import text_of
from tests.plans.test_planning_again import bend_all, send_and_receive


@pytest.fixture
def accepted(ready, user):
    return accept_plan(organisation=ready.organisation, user=user, plan=ready)


@pytest.fixture
def house(season):
    return season.houses[0]


@pytest.fixture
def given(organisation, user, house):
    return {"organisation": organisation, "user": user, "house": house}


def rows_of(house):
    house = any_house_of(organisation=house.organisation).get(pk=house.pk)
    return too_much_rows(balances(organisation=house.organisation, houses=[house])[house.pk], house)


def row_of(house, **what):
    [row] = [row for row in rows_of(house) if all(getattr(row, name) == value for name, value in what.items())]
    return row


def shrink(house, length):
    House.objects.filter(pk=house.pk).update(length=length)


def test_whole_sticks_go_back_to_the_lot_that_they_came_from(accepted, house, given, signed_in):
    """26 sticks make the 13 hoops of 48 ft; at 32 ft there are 9 hoops of 18, and 20 were issued: 2 are too many."""
    lot = Lot.objects.get(reference="L-1")
    issue_pieces(**given, lot=lot, quantity=20, reason="hoops")
    shrink(house, FOOT * 32)
    row = row_of(house, material="rail", held=False)
    assert (row.quantity, row.refused) == (2, "")
    page = signed_in.get(reverse("plans:house-held", args=[house.slug]))
    assert "Return 2" in text_of(page)
    answer = signed_in.post(reverse("plans:house-put-back", args=[house.slug]), {"row": row.key}, follow=True)
    assert f"2 pieces of 1-3/8 rail returned: 2 to {lot}, {lot.place}." in text_of(answer)
    lot.refresh_from_db()
    assert lot.on_hand == 2
    back = Movement.objects.get(kind=Movement.Kind.RETURN)
    assert (back.quantity, back.house, back.lot) == (2, house, lot)
    assert [row for row in rows_of(house) if row.material == "rail" and not row.held] == []
    # What was too much is free, not held again by the house that had it.
    assert lot.reserved == 0 and not Reservation.objects.filter(lot=lot, house=house).exists()
    assert "Return 2" not in text_of(signed_in.get(reverse("plans:house-held", args=[house.slug])))


def test_each_goes_back_to_its_own_lot(accepted, house, given):
    other = LotFactory(
        material=Lot.objects.get(reference="L-1").material,
        place=Lot.objects.get(reference="L-1").place,
        reference="L-9",
        on_hand=30,
    )
    issue_pieces(**given, lot=Lot.objects.get(reference="L-1"), quantity=20, reason="hoops")
    issue_pieces(**given, lot=other, quantity=10, reason="hoops")
    shrink(house, FOOT * 32)
    # 18 are needed: 2 of those for the hoops and all 10 that were issued for nothing said are too many.
    assert row_of(house, material="rail", held=False, purpose="").quantity == 10
    assert "2 to L-1" in put_back(**given, key=row_of(house, material="rail", held=False, purpose="hoops").key)
    assert "10 to L-9" in put_back(**given, key=row_of(house, material="rail", held=False, purpose="").key)
    assert dict(Lot.objects.filter(reference__in=["L-1", "L-9"]).values_list("reference", "on_hand")) == {
        "L-1": 2,
        "L-9": 30,
    }


def test_pressed_again_nothing_more_goes_back(accepted, house, given):
    lot = Lot.objects.get(reference="L-1")
    issue_pieces(**given, lot=lot, quantity=20, reason="hoops")
    shrink(house, FOOT * 32)
    key = row_of(house, material="rail", held=False).key
    put_back(**given, key=key)
    with pytest.raises(ValidationError, match="has changed since"):
        put_back(**given, key=key)
    assert Movement.objects.filter(kind=Movement.Kind.RETURN).count() == 1


def test_what_changed_since_the_page_was_opened_is_looked_at_again(accepted, house, given):
    issue_pieces(**given, lot=Lot.objects.get(reference="L-1"), quantity=20, reason="hoops")
    shrink(house, FOOT * 32)
    key = row_of(house, material="rail", held=False).key
    shrink(house, FOOT * 48)
    with pytest.raises(ValidationError, match="nothing was returned"):
        put_back(**given, key=key)
    shrink(house, FOOT * 28)
    with pytest.raises(ValidationError, match="nothing was returned"):
        put_back(**given, key=key)
    assert not Movement.objects.filter(kind=Movement.Kind.RETURN).exists()


def test_what_is_held_too_much_is_released(accepted, house, given, signed_in):
    before = Reservation.objects.filter(house=house).aggregate(sum=Sum("quantity"))["sum"]
    shrink(house, FOOT * 32)
    row = row_of(house, material="rail", held=True)
    assert (row.quantity, row.refused) == (8, "")
    answer = signed_in.post(reverse("plans:house-put-back", args=[house.slug]), {"row": row.key}, follow=True)
    assert "8 pieces of 1-3/8 rail are not held for North 1 any more." in text_of(answer)
    assert Reservation.objects.filter(house=house).aggregate(sum=Sum("quantity"))["sum"] == before - 8
    assert [row for row in rows_of(house) if row.material == "rail"] == []
    assert not Movement.objects.exclude(kind="receive").exists()


def test_bent_and_cut_pieces_are_refused_in_words(accepted, house, given, user, signed_in):
    send_and_receive(accepted, user, 1)
    bend_all(house, user)
    shrink(house, FOOT * 40)
    row = row_of(house, material="rail", held=False)
    assert (row.quantity, row.refused) == (4, BENT)
    page = text_of(signed_in.get(reverse("plans:house-held", args=[house.slug])))
    assert BENT in page and "Return 4" not in page
    with pytest.raises(ValidationError, match="in hoops; use them for another house"):
        put_back(**given, key=row.key)
    cut_sticks(**given, lot=Lot.objects.get(reference="L-2"), sticks=1, pieces=[FOOT * 3] * 2)
    row = row_of(house, material="post", length=FOOT * 3, held=False)
    assert row.refused == CUT
    with pytest.raises(ValidationError, match="cut already"):
        put_back(**given, key=row.key)
    assert not Movement.objects.filter(kind=Movement.Kind.RETURN).exists()


def test_counted_things_go_back_too(accepted, house, given):
    lot = LotFactory(
        material=house.screw_material,
        place=Lot.objects.get(reference="L-1").place,
        reference="S-1",
        length=None,
        on_hand=500,
    )
    issue_pieces(**given, lot=lot, quantity=500, reason="joints")
    row = row_of(house, material="screw", held=False)
    assert row.length is None and 0 < row.quantity < 500
    put_back(**given, key=row.key)
    lot.refresh_from_db()
    assert lot.on_hand == row.quantity


def test_houses_of_others_are_not_there(accepted, house, client):
    client.force_login(MembershipFactory().user)
    assert client.post(reverse("plans:house-put-back", args=[house.slug]), {"row": "x"}).status_code == 404


def test_a_row_that_is_none_and_a_look_at_the_address(accepted, house, signed_in):
    address = reverse("plans:house-put-back", args=[house.slug])
    assert signed_in.get(address).status_code == 405
    assert "nothing was returned" in text_of(signed_in.post(address, {"row": "1|rail|x"}, follow=True))
    assert "nothing was returned" in text_of(signed_in.post(address, follow=True))


def test_the_page_asks_as_often_for_many_rows_too_much(accepted, house, given, signed_in):
    address = reverse("plans:house-held", args=[house.slug])
    shrink(house, FOOT * 44)
    with CaptureQueriesContext(connection) as few:
        signed_in.get(address)
    shrink(house, FOOT * 16)
    issue_pieces(**given, lot=Lot.objects.get(reference="L-1"), quantity=20, reason="hoops")
    with CaptureQueriesContext(connection) as many:
        page = signed_in.get(address)
    assert len(page.context["too_much_table"].rows) >= 3
    assert len(many) == len(few)
