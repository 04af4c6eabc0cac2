"""Pages of the ledger and of what is done with a lot."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.orgs.models import Membership
from farmbuild.stock import services
from farmbuild.stock.models import Cut, Lot, Movement
from tests.factories import FOOT, HouseFactory, LotFactory, MaterialFactory, PlaceFactory, SiteFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(organisation):
    material = MaterialFactory(organisation=organisation, name="Invented rail", code="rail")
    return LotFactory(material=material, reference="RACK-1", on_hand=20)


def post(client, lot, what, **data):
    return client.post(f"/stock/lots/{lot.pk}/{what}/", data, follow=True)


def on_hand(lot):
    return Lot.objects.values_list("on_hand", flat=True).get(pk=lot.pk)


def test_hand_out_and_bring_back(signed_in, organisation, lot):
    house = HouseFactory(site=SiteFactory(organisation=organisation), name="North house")
    page = text_of(post(signed_in, lot, "issue", quantity="4", house=house.pk, reason="", paper="Sheet 9"))
    assert "4 pieces of RACK-1 issued." in page
    assert "for North house" in page
    assert "Sheet 9" in page
    page = text_of(post(signed_in, lot, "return", quantity="1", reason="one too many"))
    assert on_hand(lot) == 17
    assert "one too many" in page


@pytest.mark.parametrize(
    ("what", "data", "words"),
    [
        ("issue", {"quantity": "21", "reason": "barn"}, "has 20 pieces left, so 21 cannot be taken out"),
        ("issue", {"quantity": "2"}, "Choose the house, or say why"),
        ("issue", {"quantity": "two", "reason": "barn"}, "Type a whole number from 1"),
        ("return", {"quantity": "-1", "reason": "barn"}, "Type a whole number from 1"),
        ("move", {"quantity": "1", "reason": "near"}, "Choose the place they go to"),
        ("lend", {"quantity": "1", "reason": "asked"}, "Type who takes them"),
        ("lend", {"quantity": "1", "borrower": "Ana"}, "Say why"),
        ("cut", {"sticks": "1"}, "Type the length of a piece"),
        ("cut", {"sticks": "1", "length_1": "11'", "reason": "x"}, "longer than the stick"),
        ("cut", {"sticks": "1", "length_1": "0", "reason": "x"}, "longer than zero"),
        ("cut", {"sticks": "1", "length_1": "2'", "each_2": "3", "reason": "x"}, "Type how long these pieces are"),
        ("cut", {"sticks": "1", "length_1": "2 parsecs", "reason": "x"}, "parsecs"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_stored(signed_in, lot, what, data, words):
    page = text_of(post(signed_in, lot, what, **data))
    assert words in page.replace("&#x27;", "'")
    assert Movement.objects.count() == 1
    assert on_hand(lot) == 20


def test_move_to_a_place_of_the_farm_only(signed_in, organisation, lot):
    foreign = PlaceFactory()
    page = text_of(post(signed_in, lot, "move", quantity="5", place=foreign.pk, reason="near"))
    assert "errors" in page
    assert Lot.objects.count() == 1
    shed = PlaceFactory(organisation=organisation, name="Shed")
    page = text_of(post(signed_in, lot, "move", quantity="5", place=shed.pk, reason="near"))
    assert "5 pieces of RACK-1 moved." in page
    assert Lot.objects.get(place=shed).on_hand == 5


def test_lend_and_take_back(signed_in, lot):
    page = text_of(post(signed_in, lot, "lend", quantity="5", borrower="Ana Ruiz", reason="her tunnel"))
    assert "Ana Ruiz, her tunnel" in page
    loan = Movement.objects.get(kind="lend")
    assert "1 loan is still out" in text_of(signed_in.get("/stock/loans/"))
    assert "5 still out" in text_of(signed_in.get(f"/stock/movements/{loan.pk}/"))
    page = text_of(signed_in.post(f"/stock/movements/{loan.pk}/loan-return/", {"quantity": "6"}))
    assert "Ana Ruiz has 5 pieces of this loan" in page
    signed_in.post(f"/stock/movements/{loan.pk}/loan-return/", {"quantity": "5"})
    assert on_hand(lot) == 20
    assert "Nothing is lent." in text_of(signed_in.get("/stock/loans/"))
    assert signed_in.get(f"/stock/movements/{loan.pk}/loan-return/").status_code == 404


def test_a_cut_is_drawn_before_it_is_made(signed_in, lot):
    given = {"sticks": "2", "length_1": "2'", "each_1": "3", "length_2": "1' 6\"", "reason": "braces"}
    page = text_of(post(signed_in, lot, "cut", **given, cut="1"))
    assert not Cut.objects.exists()
    assert "3 of 2&#x27; (610 mm), 1 of 1&#x27; 6&quot; (457 mm); 4 saw cuts; an offcut of" in page
    assert "Cut 2 sticks like this" in page
    drawn = re.search(r'name="drawn" value="([^"]*)"', page)[1]
    # Another length than the drawn one is drawn again, not cut.
    post(signed_in, lot, "cut", **given | {"length_1": "1'"}, drawn=drawn, cut="1")
    assert not Cut.objects.exists()
    page = text_of(post(signed_in, lot, "cut", **given, drawn=drawn, cut="1"))
    assert "2 sticks of RACK-1 cut into" in page
    assert sorted(Lot.objects.filter(on_hand__gt=0).values_list("on_hand", flat=True)) == [2, 2, 6, 18]


def test_counted_things_are_not_cut(signed_in, organisation):
    screws = LotFactory(material=MaterialFactory(organisation=organisation, kind="fastener"), length=None)
    page = text_of(signed_in.get(f"/stock/lots/{screws.pk}/"))
    assert f"/stock/lots/{screws.pk}/cut/" not in page
    assert "cannot be cut" in text_of(post(signed_in, screws, "cut", sticks="1", length_1="2'", reason="x"))


def test_a_movement_is_reversed_from_its_page(signed_in, lot):
    post(signed_in, lot, "issue", quantity="4", reason="barn")
    row = Movement.objects.get(kind="issue")
    assert f"/stock/movements/{row.pk}/reverse/" in text_of(signed_in.get(f"/stock/movements/{row.pk}/"))
    address = f"/stock/movements/{row.pk}/reverse/"
    assert "Say why" in text_of(signed_in.post(address, {"reason": ""}))
    page = text_of(signed_in.post(address, {"reason": "not taken"}, follow=True))
    assert "reversed since" in page
    assert address not in page
    assert "was reversed already" in text_of(signed_in.post(address, {"reason": "again"}))
    assert on_hand(lot) == 20


def test_the_ledger_narrows(signed_in, organisation, lot):
    post(signed_in, lot, "issue", quantity="4", reason="barn")
    LotFactory(material=MaterialFactory(organisation=organisation, name="Board", code="board"))
    day = timezone.localdate()

    def rows(**query):
        return text_of(signed_in.get("/stock/ledger/", query)).count("row-link")

    assert rows() == 3
    assert rows(material="rail") == 2
    assert rows(kind="issue") == 1
    assert rows(place=lot.place.pk) == 2
    assert rows(since=day.isoformat()) == rows(until=day.isoformat()) == 3
    assert rows(until="2020-01-01") == 0
    assert "No movements fit." in text_of(signed_in.get("/stock/ledger/", {"until": "2020-01-01"}))
    assert "This day cannot be read" not in text_of(signed_in.get("/stock/ledger/"))


def test_an_empty_ledger_says_what_belongs_here(signed_in):
    assert "Nothing has moved yet." in text_of(signed_in.get("/stock/ledger/"))


def test_rows_of_another_farm_are_not_found(signed_in):
    foreign = LotFactory()
    row = foreign.movements.get()
    for what in ("issue", "return", "move", "lend", "cut"):
        assert signed_in.get(f"/stock/lots/{foreign.pk}/{what}/").status_code == 404
        assert signed_in.post(f"/stock/lots/{foreign.pk}/{what}/", {"quantity": "1"}).status_code == 404
    for what in ("", "reverse/", "loan-return/"):
        assert signed_in.get(f"/stock/movements/{row.pk}/{what}").status_code == 404
    assert text_of(signed_in.get("/stock/ledger/")).count("row-link") == 0


def test_signed_out_people_see_no_ledger(client):
    for address in ("/stock/ledger/", "/stock/loans/"):
        assert client.get(address).status_code == 302


def test_the_lot_page_has_the_running_count(signed_in, lot):
    post(signed_in, lot, "issue", quantity="4", reason="barn")
    page = text_of(signed_in.get(f"/stock/lots/{lot.pk}/"))
    assert page.index(">16<") < page.index(">20<")
    assert lot.length == FOOT * 10


def test_a_long_ledger_leafs_through_the_newest(signed_in, lot, monkeypatch):
    monkeypatch.setattr("farmbuild.stock.views.ledger.MAX_ROWS", 30)
    Movement.objects.bulk_create([Movement(lot=lot, kind="receive", quantity=1) for _ in range(29)])
    page = text_of(signed_in.get("/stock/ledger/?page=2"))
    assert page.count("row-link") == 5
    assert "More than" not in page
    Movement.objects.create(lot=lot, kind="receive", quantity=1)
    page = text_of(signed_in.get("/stock/ledger/?page=2"))
    assert page.count("row-link") == 5
    assert "More than 30 movements" in page
    assert "Choose the days above" in page


def test_pages_say_what_it_cost_and_who_bears_it(signed_in, organisation, user, lot):
    house = HouseFactory(site=SiteFactory(organisation=organisation), name="Creek 1")
    who = {"organisation": organisation, "user": user}
    out = services.issue_pieces(**who, lot=lot, quantity=3, reason="frame", house=house)
    services.reprice_lot(**who, lot=lot, unit_cost=Decimal(20), reason="The invoice came")
    page = text_of(signed_in.get(reverse("stock:lot", args=[lot.pk])))
    assert "The invoice came" in page and "$20.00" in page and "$340.00" in page
    page = text_of(signed_in.get(reverse("stock:movement", args=[out.pk])))
    assert "Who bears it" in page and "Creek 1" in page and "33.00" in page and "estimated" not in page
    assert "-33.00" in text_of(signed_in.get(reverse("stock:ledger")))


def test_who_sees_no_costs_sees_none_of_it(signed_in, organisation, user, lot):
    who = {"organisation": organisation, "user": user}
    out = services.issue_pieces(**who, lot=lot, quantity=3, reason="frame")
    services.reprice_lot(**who, lot=lot, unit_cost=Decimal(20), reason="The invoice came")
    Membership.objects.filter(user=user).update(role=Membership.Role.YARD)
    for name, args in (("stock:lot", [lot.pk]), ("stock:movement", [out.pk]), ("stock:ledger", [])):
        page = text_of(signed_in.get(reverse(name, args=args)))
        assert "33.00" not in page and "20.00" not in page and "Who bears it" not in page, name
