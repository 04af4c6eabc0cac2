"""Another organisation's orders, receipts and replies are out of reach of every service."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError

from farmbuild.buying import receiving, replying, sending
from farmbuild.buying.incoming import incoming_lines
from farmbuild.buying.models import Reply
from farmbuild.buying.receiving import Arrival
from farmbuild.buying.selectors import first_to_send, orders_of, replies_of
from farmbuild.stock.models import Lot
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db
DAY = date(2027, 4, 20)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def stranger():
    member = MembershipFactory()
    return {"organisation": member.organisation, "user": member.user}


@pytest.fixture
def order(organisation):
    return sent_order(organisation, 100)


def test_their_order_is_not_sent_cancelled_closed_received_or_answered(who, stranger, order):
    arrivals = [Arrival(order.lines.get().pk, 60)]
    given = {"received_on": DAY, "place": "Rack", "token": "t"}
    receipt = receiving.receive_goods(**who, order=order, arrivals=arrivals, **given).receipt
    reply = Reply.objects.create(
        organisation=order.organisation, order=order, filename="x", sha256="0" * 64, rows=[], bad_rows=0, differences=0
    )
    mine = sent_order(stranger["organisation"], 5)
    for work in (
        lambda: sending.send_order(**stranger, order=order, sent_on=DAY, how="post"),
        lambda: sending.cancel_order(**stranger, order=order, reason="no"),
        lambda: sending.close_short(**stranger, order=order, reason="no"),
        lambda: receiving.receive_goods(**stranger, order=order, arrivals=arrivals, **(given | {"token": "u"})),
        lambda: receiving.reverse_receipt(**stranger, receipt=receipt, reason="no"),
        lambda: replying.apply_reply(**stranger, order=order, reply=reply),
        lambda: replying.apply_reply(**stranger, order=mine, reply=reply),
        lambda: replying.apply_reply(**who, order=sent_order(who["organisation"], 5), reply=reply),
        lambda: replying.make_reply(**stranger, order=order, data=b"", filename="reply.xlsx"),
    ):
        with pytest.raises((ObjectDoesNotExist, ValidationError)):
            work()
    order.refresh_from_db()
    reply.refresh_from_db()
    assert (order.state, Lot.objects.get().on_hand, reply.taken_at) == ("part", 60, None)


def test_each_sees_its_own(who, stranger, order):
    other = sent_order(stranger["organisation"], 5)
    for organisation, found in ((who["organisation"], order), (stranger["organisation"], other)):
        assert list(orders_of(organisation=organisation)) == [found]
        assert [line.order for line in incoming_lines(organisation=organisation)] == [found]
        assert first_to_send(organisation=organisation, today=DAY) is None
        assert not replies_of(organisation=organisation)
