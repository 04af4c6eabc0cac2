"""Eight people receive one order at once, each with a connection of their own. Runs on SQLite and on PostgreSQL."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Sum

from farmbuild.buying import receiving, sending
from farmbuild.buying.models import PurchaseOrder, Receipt
from farmbuild.buying.receiving import Arrival
from farmbuild.stock.models import Lot, Place
from tests.buying.books import recount
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8
EACH = 5


def at_once(work):
    """Results of ``work(number)`` in THREADS threads; what they raise is raised here."""

    def alone(number):
        try:
            return work(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        return list(pool.map(alone, range(THREADS)))


def receive(member, order, lines, token, **more):
    return receiving.receive_goods(
        organisation=member.organisation,
        user=member.user,
        order=order,
        arrivals=[Arrival(line.pk, 1) for line in lines],
        received_on=date(2027, 4, 20),
        token=token,
        place="Barn rack",
        **more,
    )


@pytest.fixture
def member():
    return MembershipFactory()


def test_deliveries_at_once_are_all_there_and_none_twice(member):
    order = sent_order(member.organisation, *[THREADS * EACH] * 3)
    lines = list(order.lines.all())

    def work(number):
        # Each delivery is sent twice, as by an impatient thumb.
        for at in range(EACH):
            first = receive(member, order, lines, f"{number}-{at}")
            second = receive(member, order, lines, f"{number}-{at}")
            assert first.receipt == second.receipt and not first.same and second.same

    at_once(work)
    order.refresh_from_db()
    assert order.state == PurchaseOrder.State.RECEIVED
    assert [line.arrived for line in order.lines.all()] == [THREADS * EACH] * 3
    assert Receipt.objects.count() == THREADS * EACH
    assert Lot.objects.aggregate(total=Sum("on_hand"))["total"] == THREADS * EACH * 3
    assert Place.objects.count() == 1
    recount(member.organisation)


def test_one_form_pressed_eight_times_at_once(member):
    order = sent_order(member.organisation, 10, 10)
    lines = list(order.lines.all())
    done = at_once(lambda number: receive(member, order, lines, "one-form", seen=0))
    assert len({one.receipt.pk for one in done}) == 1
    assert sorted(one.same for one in done) == [False] + [True] * (THREADS - 1)
    assert Lot.objects.aggregate(total=Sum("on_hand"))["total"] == 2
    recount(member.organisation)


def test_eight_people_at_one_delivery_and_one_takes_it_in(member):
    order = sent_order(member.organisation, 10)
    lines = list(order.lines.all())

    def work(number):
        try:
            return receive(member, order, lines, str(number), seen=0)
        except ValidationError as error:
            assert "While this page was open" in str(error)
            return None

    assert sum(done is not None for done in at_once(work)) == 1
    recount(member.organisation)


def test_received_or_cancelled_never_both(member):
    for _ in range(4):
        order = sent_order(member.organisation, 10)
        lines = list(order.lines.all())

        def work(number, order=order, lines=lines):
            try:
                if number % 2:
                    receive(member, order, lines, f"{order.pk}-{number}")
                else:
                    sending.cancel_order(
                        organisation=member.organisation, user=member.user, order=order, reason="called off"
                    )
            except ValidationError:
                return False
            return True

        done = at_once(work)
        order.refresh_from_db()
        if order.state == PurchaseOrder.State.CANCELLED:
            assert sum(done) == 1 and not order.receipts.exists()
        else:
            assert sum(done) == THREADS // 2 == order.receipts.count()
    recount(member.organisation)


def test_one_receipt_reversed_by_eight_at_once_goes_out_once(member):
    order = sent_order(member.organisation, 10)
    receipt = receive(member, order, list(order.lines.all()), "in").receipt

    def work(number):
        try:
            receiving.reverse_receipt(
                organisation=member.organisation, user=member.user, receipt=receipt, reason="wrong pile"
            )
        except ValidationError as error:
            assert "has been reversed already" in str(error)
            return 0
        return 1

    assert sum(at_once(work)) == 1
    assert Lot.objects.get().on_hand == 0
    recount(member.organisation)


@pytest.mark.postgres
def test_real_clients_of_postgresql(member):
    """The first of these, said plainly for the database that a server runs on."""
    assert connection.vendor == "postgresql"
    order = sent_order(member.organisation, *[THREADS * EACH] * 2)
    lines = list(order.lines.all())
    at_once(lambda number: [receive(member, order, lines, f"{number}-{at}") for at in range(EACH)])
    order.refresh_from_db()
    assert order.state == PurchaseOrder.State.RECEIVED
    recount(member.organisation)
