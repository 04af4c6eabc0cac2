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


def test_a_plan_released_and_accepted_while_its_draft_is_edited(who, accepted):
    """Its draft is cancelled and written anew meanwhile; no edit is half done, and no hold is lost or counted twice."""
    order = accepted.orders.get(number="1-1")
    line = order.lines.get(material__code="rail")

    def edit():
        try:
            for quantity in (line.quantity - 20, line.quantity) * 4:
                call = {"order": order, "line": line, "quantity": quantity, "need_by": line.need_by}
                with suppress(ValidationError):
                    try:
                        services.change_line(**who, **call)
                    except CoverChanges as told:
                        services.change_line(**who, **call, agreed=told.agreed)
        finally:
            connection.close()

    def release():
        try:
            for step in (release_plan, accept_plan):
                with suppress(ValidationError):
                    step(**who, plan=Plan.objects.get(pk=accepted.pk))
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        for done in [pool.submit(edit), pool.submit(release)]:
            done.result()
    assert not list(reservation_differences())
    for row in accepted.orders.all():
        assert row.total == row.goods + row.delivery + row.tax
        assert row.goods == sum(row.lines.values_list("line_total", flat=True))
