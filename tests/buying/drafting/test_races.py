"""A draft is sent, or edited by another, while someone edits it. PostgreSQL alone lets two write at once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.buying import sending
from farmbuild.buying.drafting import services
from farmbuild.buying.drafting.cover import CoverChanges
from farmbuild.buying.drafting.joining import join_orders
from farmbuild.buying.files import order_file
from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.plans.accepting import accept_plan, release_plan
from farmbuild.plans.models import Plan
from tests.buying.drafting.sheets import order_rows
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def order(yard):
    order = yard.order()
    yard.line(order, 30)
    return order


def send(yard, order):
    return lambda: sending.send_order(**yard.who, order=order, sent_on=yard.day, how="")


def change(yard, order, quantity):
    line = order.lines.get()
    return lambda: services.change_line(**yard.who, order=order, line=line, quantity=quantity, need_by=yard.day)


def test_an_order_sent_meanwhile_is_not_edited(yard, order):
    assert "is sent, so it is not changed any more" in comes_second(send(yard, order), change(yard, order, 50))
    assert order.lines.get().quantity == 30


def test_an_order_edited_meanwhile_is_sent_as_edited(yard, order):
    comes_second(change(yard, order, 50), send(yard, order))
    order.refresh_from_db()
    (row,) = order_rows(order_file(order=order))
    assert (order.state, row["Packs"], order.goods) == ("sent", 5, Decimal("666.75"))


def test_lines_added_at_once_are_all_there_and_paid_for(yard, order):
    def add(number):
        try:
            return yard.line(order, 10)
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(add, range(6)))
    order.refresh_from_db()
    assert list(order.lines.values_list("position", flat=True)) == list(range(1, 8))
    # 90 at 13.335, line by line: 400.05 and six times 133.35.
    assert order.goods == Decimal("1200.15") == sum(order.lines.values_list("line_total", flat=True))


def test_orders_joined_both_ways_at_once_are_joined_once(yard, order):
    other = yard.order()
    yard.line(other, 20)
    said = comes_second(
        lambda: join_orders(**yard.who, order=order, other=other),
        lambda: join_orders(**yard.who, order=other, other=order),
    )
    assert "is cancelled, so it is not changed any more" in said
    assert order.lines.count() == 2


def test_a_hold_made_meanwhile_is_not_lost(who, ready):
    """The plan is accepted, released and accepted again while the draft is lowered and raised."""
    order = ready.orders.get(number="1-1")
    line = order.lines.get(material__code="rail")

    def edit():
        try:
            for quantity in (line.quantity - 20, line.quantity) * 4:
                call = {"order": order, "line": line, "quantity": quantity, "need_by": line.need_by}
                try:
                    services.change_line(**who, **call)
                except CoverChanges as told:
                    with suppress(CoverChanges):
                        services.change_line(**who, **call, agreed=told.agreed)
        finally:
            connection.close()

    def accept():
        try:
            for _ in range(4):
                for step in (accept_plan, release_plan):
                    with suppress(ValidationError):
                        step(**who, plan=Plan.objects.get(pk=ready.pk))
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(edit), pool.submit(accept)]:
            done.result()
    assert not list(reservation_differences())
    order.refresh_from_db()
    assert order.total == order.goods + order.delivery + order.tax
    assert order.goods == sum(order.lines.values_list("line_total", flat=True))
