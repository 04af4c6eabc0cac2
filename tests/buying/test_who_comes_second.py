"""Whoever comes second at an order is told what the first did to it."""

from __future__ import annotations

from datetime import date

import pytest

from farmbuild.buying import receiving, sending
from farmbuild.buying.receiving import Arrival
from farmbuild.stock import services as stock
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import Lot
from tests.buying.sent_order import sent_order
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def order(organisation):
    return sent_order(organisation, 100)


@pytest.fixture
def receive(who, order):
    def work():
        given = {"received_on": date(2027, 4, 20), "place": "Rack", "token": "form-1"}
        arrivals = [Arrival(order.lines.get().pk, 60)]
        return receiving.receive_goods(**who, order=order, arrivals=arrivals, **given).receipt

    return work


def test_goods_that_come_meanwhile_are_not_cancelled(who, order, receive):
    said = comes_second(receive, lambda: sending.cancel_order(**who, order=order, reason="too dear"))
    assert "have come, so it cannot be cancelled" in said


def test_the_same_form_sent_meanwhile_is_received_once(receive):
    comes_second(receive, receive)
    assert Lot.objects.get().on_hand == 60


def test_what_was_taken_meanwhile_is_not_taken_back(who, receive):
    receipt, lot = receive(), Lot.objects.get()
    said = comes_second(
        lambda: stock.scrap(**who, lot=lot, quantity=1, reason="bent"),
        lambda: receiving.reverse_receipt(**who, receipt=receipt, reason="wrong pile"),
    )
    assert "has 59 pieces left of the 60 that came" in said
    assert not list(differences())
