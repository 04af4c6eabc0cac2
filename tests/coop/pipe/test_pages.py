"""The manager's pages of pipe between members: entered, settled in three ways, taken back, found, and by whom."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.coop import law
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe.services import NewReturn, record_pipe, record_return, tell_pipe, tell_return
from farmbuild.stock.models import Lot
from tests.coop.pipe.making import Two
from tests.factories import MemberFactory, MembershipFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(db):
    return Two()


@pytest.fixture(autouse=True)
def signed_in(two, client):
    client.force_login(two.who["user"])


def at(name, *args):
    return reverse(f"coop:{name}", args=args)


def typed(two, **more):
    given = {
        "kind": "lent",
        "lender": two.ana.pk,
        "borrower": two.bo.pk,
        "lot": two.lot.pk,
        "quantity": "6",
        "day": two.today.isoformat(),
        "back_until": (two.today + timedelta(days=9)).isoformat(),
        "note": "both were here",
    }
    return given | more


def back(two, **more):
    return {"quantity": "2", "day": two.today.isoformat(), "note": "by telephone"} | more


def test_from_an_empty_list_to_a_loan_that_is_settled_in_three_ways(two, client):
    page = text_of(client.get(at("pipe-list")))
    assert "No member owes another any pipe." in page and "What members lend and give each other" in page
    assert client.post(at("pipe-new"), typed(two)).status_code == 302
    loan = PipeLoan.objects.get()
    assert (loan.agreed_at is not None, Lot.objects.get(pk=two.lot.pk).on_hand) == (True, 4)
    page = text_of(client.get(at("pipe-list")))
    assert "1 member owes others pipe." in page and "Owed in pieces" in page
    page = text_of(client.get(at("pipe", loan.pk)))
    assert "Bo owes Ana 6 pieces, back by" in page and "Record a return" in page

    client.post(at("pipe-return-new", loan.pk), back(two, damaged="1", into_lot="on"))
    other = {"material": two.pipe.pk, "length": "10'", "came": "3", "price": "12.75", "came_price": "8"}
    client.post(at("pipe-return-other", loan.pk), back(two, **other))
    client.post(at("pipe-return-money", loan.pk), back(two, price="12.75"))
    page = text_of(client.get(at("pipe", loan.pk)))
    assert "All 6 pieces are settled." in page and "2 pieces came back, 1 damaged" in page
    assert "3 pieces of" in page and "at $8.00 against $12.75 each" in page
    assert "2 pieces turned into money at $12.75 each" in page and "Record a return" not in page
    # 2 at 12.75 less 3 at 8.00, and 2 at 12.75.
    assert (two.owes(two.bo), two.owes(two.ana)) == (Decimal("27.00"), Decimal("-27.00"))
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 5
    page = text_of(client.get(at("pipe-list")))
    assert "Owed in money" in page and "27.00" in page
    assert list(law.faults_of(organisation=two.organisation)) == []


def test_what_was_typed_wrong_is_said_at_its_field_and_nothing_is_stored(two, client):
    wrong = {
        "Choose the material, or the lot": {"lot": ""},
        "Type the price of one piece.": {"kind": "sold"},
        "Only what is given for money has a price.": {"price": "3"},
        "has 10 pieces": {"quantity": "11"},
        "another material or length than typed": {"material": two.pipe.pk},
        "are not those of Bo": {"lender": two.bo.pk, "borrower": two.ana.pk},
        "Choose another member": {"borrower": two.ana.pk},
        "Say how they told it": {"note": ""},
    }
    for words, more in wrong.items():
        assert words in text_of(client.post(at("pipe-new"), typed(two, **more))), words
    assert not PipeLoan.objects.exists()
    loan = record_pipe(**two.who, new=two.new(6))
    wrong = [
        ("pipe-return-new", {"quantity": "7"}, "6 pieces of this loan are still out"),
        ("pipe-return-new", {"damaged": "3"}, "no more than came back"),
        ("pipe-return-money", {"price": "0"}, "above 0"),
        ("pipe-return-money", {"price": "5", "note": ""}, "Say how both agreed"),
        ("pipe-return-other", {"material": two.pipe.pk, "length": "10'", "came": "3", "price": "5"}, "both prices"),
    ]
    for name, more, words in wrong:
        assert words in text_of(client.post(at(name, loan.pk), back(two, **more))), words
    assert not PipeReturn.objects.exists()


def test_it_asks_before_it_takes_back_and_both_lines_stay(two, client):
    loan = record_pipe(**two.who, new=two.new(6, lot=two.lot))
    row = record_return(**two.who, loan=loan, new=NewReturn(2, two.today, into_lot=True))
    assert "Then it counts no more" in text_of(client.get(at("pipe-return-back", row.pk)))
    assert "Say why in a few words" in text_of(client.post(at("pipe-return-back", row.pk), {"reason": ""}))
    refused = text_of(client.post(at("pipe-back", loan.pk), {"reason": "told wrong"}))
    assert "Take that back first" in refused
    client.post(at("pipe-return-back", row.pk), {"reason": "counted wrong"})
    client.post(at("pipe-back", loan.pk), {"reason": "told wrong"})
    page = text_of(client.get(at("pipe", loan.pk)))
    assert "It is taken back and counts no more." in page and "told wrong" in page and "Take it back" not in page
    assert "counted wrong" in text_of(client.get(at("pipe-return", row.pk)))
    assert Lot.objects.get(pk=two.lot.pk).on_hand == 10
    # Leave that came with the loan went with it, so that nobody takes the pieces by it.
    assert not two.lot.leaves.filter(ended_at=None).exists()
    again = text_of(client.post(at("pipe-back", loan.pk), {"reason": "once more"}))
    assert "taken back already" in again


def test_for_a_member_without_a_sign_in_the_manager_says_that_it_agrees(two, client):
    loan = tell_pipe(**two.by(two.ana), new=two.new(4))
    assert "1 entry waits for an answer." in text_of(client.get(at("pipe-list")))
    assert "Bo agrees" in text_of(client.get(at("pipe", loan.pk)))
    assert "Has Bo told you that it is so?" in text_of(client.get(at("pipe-agree", loan.pk)))
    client.post(at("pipe-agree", loan.pk))
    row = tell_return(**two.by(two.ana), loan=loan, new=NewReturn(3, two.today))
    client.post(at("pipe-return-agree", row.pk))
    assert two.out() == [("Bo", "Ana", 1, 0, 1)]
    again = client.post(at("pipe-return-agree", row.pk), follow=True)
    assert "nothing here to agree to any more" in text_of(again)


def test_where_nobody_is_asked_nobody_agrees(two, client):
    loan = record_pipe(**two.who, new=two.new(4))
    assert client.get(at("pipe-agree", loan.pk)).url == at("pipe", loan.pk)


def test_the_list_is_of_one_member_when_asked(two, client):
    third = MemberFactory(organisation=two.organisation, name="Cy", slug="cy")
    record_pipe(**two.who, new=two.new(3, borrower=third))
    record_pipe(**two.who, new=two.new(5))
    whole = text_of(client.get(at("pipe-list")))
    assert "Ana to Bo" not in whole and "Bo to Ana 5" in whole and "Cy to Ana 3" in whole
    one = text_of(client.get(at("pipe-list") + "?member=cy"))
    assert "Cy to Ana 3" in one and "Bo to Ana" not in one
    assert client.get(at("pipe-list") + "?member=nobody").status_code == 200


def test_nothing_is_found_of_another_cooperative_or_shown_to_whoever_may_not(two, client):
    loan = record_pipe(**two.who, new=two.new(6, kind="given", price=Decimal("12.75")))
    stranger = Client()
    stranger.force_login(MembershipFactory().user)
    assert stranger.get(at("pipe", loan.pk), follow=True).status_code == 404
    looks = Client()
    looks.force_login(MembershipFactory(organisation=two.organisation, role="looks").user)
    page = text_of(looks.get(at("pipe", loan.pk), follow=True))
    assert "12.75" not in page and "Take it back" not in page and "Ana gave Bo 6 pieces." in page
    listed = text_of(looks.get(at("pipe-list"), follow=True))
    assert "76.50" not in listed and "Owed in money" not in listed
    assert looks.post(at("pipe-new"), typed(two), follow=True).status_code == 403
    assert PipeLoan.objects.count() == 1
