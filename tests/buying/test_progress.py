"""Where an order stands, from lines in every state, by hand."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from farmbuild.buying import receiving, sending
from farmbuild.buying.incoming import incoming_lines
from farmbuild.buying.progress import OrderProgress, confirmed_totals, progress_of
from farmbuild.buying.receiving import Arrival
from tests.buying.sent_order import NEED_BY, sent_order
from tests.factories import MaterialFactory

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def order(who):
    """Over by 3 with 2 damaged; short by 5 and closed; exactly; closed, then over by 4; 7 rolls, 9 sticks to come."""
    cloth = MaterialFactory(organisation=who["organisation"], code="film", kind="film")
    otherwise = {
        1: {"promised_on": NEED_BY + 9 * DAY, "need_by": NEED_BY - 9 * DAY},
        5: {"promised_on": NEED_BY + DAY, "need_by": NEED_BY - DAY, "material": cloth},
        6: {"promised_on": NEED_BY + 3 * DAY},
    }
    order = sent_order(who["organisation"], 10, 20, 30, 40, 7, 9, otherwise=otherwise)
    lines = list(order.lines.all())
    came = [(0, 15, 2), (1, 15, 0), (2, 30, 0), (3, 20, 0)]
    arrivals = [Arrival(lines[n].pk, arrived, damaged, "bent" if damaged else "") for n, arrived, damaged in came]
    given = {"received_on": date(2027, 4, 20), "place": "Rack", "token": "t"}
    receiving.receive_goods(**who, order=order, arrivals=arrivals, **given)
    for n in (1, 3):
        sending.close_short(**who, order=order, line=lines[n], reason="no longer made")
    more = [Arrival(lines[3].pk, 24)]
    receiving.receive_goods(**who, order=order, arrivals=more, **given | {"token": "u"})
    order.refresh_from_db()
    return order


def test_what_is_to_come_what_came_over_and_short(order):
    found = progress_of(order=order)
    assert (found.damaged, found.over, found.short) == (2, 3 + 4, 5)
    assert (found.open_lines, found.unpromised) == (2, 0)
    assert (found.first_promised, found.promised, found.need_by) == (NEED_BY + DAY, NEED_BY + 3 * DAY, NEED_BY - DAY)
    assert found.arrived == "102 sticks"
    assert found.to_come == "7 rolls and 9 sticks"


def test_lines_to_come_are_those_of_open_orders_first_needed_first(order, who):
    other = sent_order(who["organisation"], 5)
    gone = sent_order(who["organisation"], 5)
    sending.cancel_order(**who, order=gone, reason="no")
    found = [(line.order_id, line.position, line.waited) for line in incoming_lines(organisation=who["organisation"])]
    assert progress_of(order=other).unpromised == 1
    assert found == [(order.pk, 5, 7), (order.pk, 6, 9), (other.pk, 1, 5)]


def test_nothing_is_confirmed_until_something_is_said(who):
    order = sent_order(who["organisation"], 5)
    assert confirmed_totals(order=order) is None
    assert progress_of(order=order) == OrderProgress(
        to_come="5 sticks",
        arrived="",
        damaged=0,
        over=0,
        short=0,
        open_lines=1,
        unpromised=1,
        promised=None,
        first_promised=None,
        need_by=NEED_BY,
    )


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("said", "goods"),
    [({"confirmed_price": Decimal(1)}, 1), ({"confirmed_quantity": 0}, 0), ({"confirmed_quantity": 2}, 2)],
)
def test_what_was_confirmed_takes_the_place_of_what_was_ordered(ready, said, goods):
    """One line; by price one at 1 each of as many as ordered, by quantity as many at the price ordered."""
    order = ready.orders.get(number="1-1")
    lines = list(order.lines.all())
    assert confirmed_totals(order=order) is None
    order.lines.filter(pk=lines[0].pk).update(**said)
    found = confirmed_totals(order=order)
    rest = sum(line.line_total for line in lines[1:])
    first = goods * (lines[0].quantity if "confirmed_price" in said else lines[0].unit_price)
    assert found.goods == rest + Decimal(first).quantize(Decimal("0.01"))
    assert found.total == found.goods + found.tax + order.delivery
