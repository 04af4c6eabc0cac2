"""What a member sees and does of pipe and of its lots in the common yard, and nothing of others."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe.panel import next_steps
from farmbuild.coop.pipe.services import NewReturn, record_pipe, tell_pipe, tell_return
from farmbuild.stock.models import Leave, Lot
from farmbuild.stock.owners.services import record_leave
from tests.coop.pipe.making import Two
from tests.factories import MemberFactory, MemberFarmFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def two(db):
    made = Two()
    MemberFactory(organisation=made.organisation, name="Zanzibar Orchard", slug="zanzibar")
    return made


@pytest.fixture
def visitors(two):
    """Of Ana and of Bo."""
    clients = Client(), Client()
    for client, member in zip(clients, (two.ana, two.bo), strict=True):
        client.force_login(two.users[member.pk])
    return clients


def at(two, name, *args):
    return reverse(f"coop:{name}", args=[two.organisation.slug, *args])


def typed(two, **more):
    given = {"side": "us", "other": "bo ", "kind": "lent", "lot": two.lot.pk, "quantity": "6"}
    return given | {"day": two.today.isoformat()} | more


def test_one_tells_and_the_other_agrees_and_both_ways_back(two, visitors):
    ana, bo = visitors
    assert "Nothing is lent or borrowed." in text_of(ana.get(at(two, "seen-pipe-list")))
    assert ana.post(at(two, "seen-pipe-new"), typed(two)).status_code == 302
    loan = PipeLoan.objects.get()
    assert (loan.asked_of, loan.agreed_at) == (two.bo, None)
    assert "Withdraw it" in text_of(ana.get(at(two, "seen-pipe", loan.pk)))
    assert "1 entry waits for your answer." in text_of(bo.get(at(two, "seen")))
    assert "It counts once you agree." in text_of(bo.get(at(two, "seen-pipe", loan.pk)))
    for _ in range(2):
        bo.post(at(two, "seen-pipe-agree", loan.pk))
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([("Bo", "Ana", 6, 0, 6)], 4)
    assert "You owe 6 pieces." in text_of(bo.get(at(two, "seen-pipe-list")))
    assert "6 pieces are owed to you." in text_of(ana.get(at(two, "seen")))

    told = {"quantity": "5", "damaged": "1", "into_lot": "on", "day": two.today.isoformat()}
    bo.post(at(two, "seen-pipe-return-new", loan.pk), told)
    row = PipeReturn.objects.get()
    assert "We agree" in text_of(ana.get(at(two, "seen-pipe-return", row.pk)))
    assert "We agree" not in text_of(bo.get(at(two, "seen-pipe-return", row.pk)))
    ana.post(at(two, "seen-pipe-return-agree", row.pk))
    assert (two.out(), Lot.objects.get(pk=two.lot.pk).on_hand) == ([("Bo", "Ana", 1, 0, 1)], 8)
    money = {"quantity": "1", "price": "12.75", "day": two.today.isoformat()}
    ana.post(at(two, "seen-pipe-return-money", loan.pk), money)
    bo.post(at(two, "seen-pipe-return-agree", PipeReturn.objects.last().pk))
    assert (two.owes(two.bo), two.out()) == (Decimal("12.75"), [])
    assert "You to Ana: $12.75" in text_of(bo.get(at(two, "seen-pipe-list")))


def test_it_is_not_so(two, visitors):
    ana, bo = visitors
    ana.post(at(two, "seen-pipe-new"), typed(two))
    loan = PipeLoan.objects.get()
    bo.post(at(two, "seen-pipe-refuse", loan.pk))
    assert "not so, says Bo" in text_of(ana.get(at(two, "seen-pipe", loan.pk)))
    assert "nothing here to agree to" in text_of(bo.post(at(two, "seen-pipe-agree", loan.pk), follow=True))
    loan = record_pipe(**two.who, new=two.new(4))
    row = tell_return(**two.by(two.bo), loan=loan, new=NewReturn(4, two.today))
    ana.post(at(two, "seen-pipe-return-refuse", row.pk))
    assert two.out() == [("Bo", "Ana", 4, 0, 4)]
    other = {"quantity": "4", "material": two.pipe.pk, "length": "10'", "came": "7", "day": two.today.isoformat()}
    bo.post(at(two, "seen-pipe-return-other", loan.pk), other)
    ana.post(at(two, "seen-pipe-return-agree", PipeReturn.objects.last().pk))
    assert (two.out(), two.owes(two.bo)) == ([], 0)


def test_another_member_is_named_by_its_whole_name_alone(two, visitors):
    ana, _ = visitors
    page = text_of(ana.get(at(two, "seen-pipe-new")))
    assert "Bo" not in page.split() and "Zanzibar" not in page
    wrong = {
        "No member is called that.": "Zanzibar",
        "That is you.": "Ana",
        "Type the name of the other member.": "",
    }
    for words, other in wrong.items():
        page = text_of(ana.post(at(two, "seen-pipe-new"), typed(two, other=other)))
        assert words in page and "Zanzibar Orchard" not in page, words
    assert "does not come out of your lot" in text_of(ana.post(at(two, "seen-pipe-new"), typed(two, side="them")))
    assert "has 10 pieces" in text_of(ana.post(at(two, "seen-pipe-new"), typed(two, quantity="11")))
    assert not PipeLoan.objects.exists()
    ana.post(at(two, "seen-pipe-new"), typed(two, side="them", lot="", material=two.rail.pk, length="20'"))
    assert PipeLoan.objects.get().lender == two.bo
    assert "So far: Bo." in text_of(ana.get(at(two, "seen-pipe-new")))
    MemberFactory(organisation=two.organisation, name="Bo", slug="bo-2")
    assert "Several members are called that." in text_of(ana.post(at(two, "seen-pipe-new"), typed(two)))


def test_a_lot_in_the_common_yard_and_its_leave(two, visitors):
    ana, bo = visitors
    page = text_of(ana.get(at(two, "seen-lots")))
    assert "1 lot of Ana lies in the common yard; leave is given for 0." in page
    assert "Nothing of Bo lies in the common yard." in text_of(bo.get(at(two, "seen-lots")))
    leave = at(two, "seen-lot-leave", two.lot.pk)
    until = (two.today + timedelta(days=3)).isoformat()
    assert "has 10 pieces" in text_of(ana.post(leave, {"quantity": "11"}))
    assert "takes its own pieces" not in text_of(ana.post(leave, {"quantity": "5", "other": "Bo", "until": until}))
    ana.post(leave, {"quantity": "2"})
    given = {(row.member, row.quantity) for row in Leave.objects.standing()}
    assert given == {(two.bo, 5), (None, 2)}
    page = text_of(ana.get(at(two, "seen-lot", two.lot.pk)))
    assert "5 pieces for Bo, until" in page and "2 pieces for everybody; 2 left" in page
    row = Leave.objects.get(member=two.bo)
    end = at(two, "seen-lot-leave-end", row.pk)
    assert "Nobody may then take the 5 pieces that are left" in text_of(ana.get(end))
    assert Leave.objects.get(pk=row.pk).ended_at is None, "it asks first"
    ana.post(end)
    assert "ended: ended by Ana" in text_of(ana.get(at(two, "seen-lot", two.lot.pk)))
    assert ana.post(end).status_code == 404
    for name, key in (("seen-lot", two.lot.pk), ("seen-lot-leave", two.lot.pk), ("seen-lot-leave-end", row.pk)):
        assert bo.get(at(two, name, key)).status_code == 404


def test_the_manager_is_asked_why_before_leave_ends(two, client):
    client.force_login(two.who["user"])
    leave = record_leave(**two.who, lot=two.lot, quantity=3, told="by telephone")
    end = reverse("stock:lot-leave-end", args=[leave.pk])
    assert "Nobody may then take what is left of it from Ana." in text_of(client.get(end))
    assert "Say why in a few words" in text_of(client.post(end, {"reason": ""}))
    assert Leave.objects.get().ended_at is None
    client.post(end, {"reason": "Ana needs them"})
    assert Leave.objects.get().ended_because == "Ana needs them"


def test_a_farm_is_told_what_comes_next(two):
    farm = MemberFarmFactory(member=MemberFactory(organisation=two.organisation, name="Dee", slug="dee"))
    assert next_steps(organisation=farm.farm) == []
    tell_pipe(**two.by(two.ana), new=two.new(4, borrower=farm.member))
    [step] = next_steps(organisation=farm.farm)
    assert step.label == "Answer about pipe" and step.url == at(two, "seen-pipe-list")
