"""What came of an order is in stock, at the price as delivered, once."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from farmbuild.buying import receiving, sending
from farmbuild.buying.models import PurchaseOrder, Receipt, ReceiptLine
from farmbuild.buying.receiving import Arrival
from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.stock import ledger
from farmbuild.stock import services as stock
from farmbuild.stock.models import Lot, Movement, Place
from tests.buying.books import recount
from tests.buying.sent_order import sent_order
from tests.factories import MembershipFactory, OrganisationFactory, PlaceFactory
from tests.size import sized

pytestmark = pytest.mark.django_db
State = PurchaseOrder.State
DAY = date(2027, 4, 20)


@pytest.fixture
def order(organisation) -> PurchaseOrder:
    return sent_order(organisation, 100, 20)


@pytest.fixture
def receive(organisation, user):
    """``receive(order, (arrived, more of Arrival by name), …)`` line by line from the first; None leaves one out."""

    def work(order, *lines, token=None, **more):
        rows = list(order.lines.all())
        arrivals = [
            Arrival(row.pk, **(came if isinstance(came, dict) else {"arrived": came}))
            for row, came in zip(rows, lines, strict=False)
            if came is not None
        ]
        given = {"received_on": DAY, "place": "Barn rack", "token": token or str(uuid4())} | more
        done = receiving.receive_goods(organisation=organisation, user=user, order=order, arrivals=arrivals, **given)
        order.refresh_from_db()
        return done.receipt

    return work


@pytest.fixture
def reverse(organisation, user):
    return lambda receipt, reason="wrong pile": receiving.reverse_receipt(
        organisation=organisation, user=user, receipt=receipt, reason=reason
    )


def test_goods_become_a_lot(order, receive, organisation, user):
    receipt = receive(order, 60, paper="DN 77")
    lot = Lot.objects.get()
    line = order.lines.first()
    assert (lot.on_hand, lot.unit_cost, lot.supplier, lot.material) == (
        60,
        line.unit_price,
        order.supplier,
        line.material,
    )
    assert (lot.length, lot.received_on, lot.reference) == (line.length, DAY, "L-0001")
    assert (lot.place.name, lot.place.site) == ("Barn rack", order.delivery_site)
    movement = lot.movements.get()
    assert (movement.kind, movement.quantity, movement.by) == (Movement.Kind.RECEIVE, 60, user)
    assert movement.reason == f"Order {order.number}, line 1, receipt 1"
    assert movement.paper == "DN 77"
    assert (receipt.number, receipt.paper, receipt.by) == (1, "DN 77", user)
    assert order.state == State.PART
    assert [row.to_come for row in order.lines.all()] == [40, 20]
    recount(organisation)


def test_over_under_damaged_and_at_another_price(order, receive, organisation):
    receive(
        order,
        {"arrived": 110, "damaged": 4, "damage_reason": "ends crushed", "unit_price": Decimal("12.9999")},
        {"arrived": 15, "place": "Shed"},
    )
    first, second = Lot.objects.order_by("reference")
    assert (first.on_hand, first.unit_cost, first.place.name) == (106, Decimal("12.9999"), "Barn rack")
    assert (second.on_hand, second.place.name) == (15, "Shed")
    assert [(row.good, row.to_come) for row in order.lines.all()] == [(106, 0), (15, 5)]
    assert order.state == State.PART
    receive(order, None, 5)
    assert order.state == State.RECEIVED
    recount(organisation)


def test_damaged_pieces_are_still_to_come(order, receive, organisation):
    receive(order, {"arrived": 100, "damaged": 100, "damage_reason": "fell off"}, 20)
    assert Lot.objects.get().on_hand == 20
    assert ReceiptLine.objects.get(damaged=100).lot is None
    assert order.state == State.PART
    assert order.lines.first().to_come == 100
    recount(organisation)


def test_the_confirmed_price_is_the_cost(order, receive):
    order.lines.update(confirmed_price=Decimal("14.25"))
    receive(order, 1)
    assert Lot.objects.get().unit_cost == Decimal("14.25")


def test_known_places_are_found_whatever_the_capitals(order, receive, organisation):
    rack = PlaceFactory(organisation=organisation, name="Barn Rack")
    receive(order, 1, {"arrived": 1, "place": "BARN rack "})
    assert set(Lot.objects.values_list("place", flat=True)) == {rack.pk}
    assert Place.objects.count() == 1


class TestRefused:
    @pytest.mark.parametrize(
        ("came", "words"),
        [
            ({"arrived": 5, "damaged": 6, "damage_reason": "x"}, "6 damaged of 5 pieces cannot be"),
            ({"arrived": 5, "damaged": 1}, "Say what is damaged"),
            ({"arrived": -5}, "Type a whole number"),
            ({"arrived": 10**12}, "Type a whole number"),
            ({"arrived": 5, "unit_price": Decimal(-1)}, "Type a price of zero or more"),
            ({"arrived": 5, "unit_price": Decimal(10**9)}, "Type a price of zero or more"),
        ],
    )
    def test_a_line_and_nothing_of_the_rest_is_stored(self, order, receive, came, words):
        with pytest.raises(receiving.LineProblems, match=words):
            receive(order, 7, came)
        assert not Lot.objects.exists() and not Receipt.objects.exists() and not Place.objects.exists()

    def test_nothing_came(self, order, receive):
        with pytest.raises(ValidationError, match="at least one line"):
            receive(order, 0, 0)

    def test_nowhere_to_put_it(self, order, receive):
        with pytest.raises(ValidationError, match="where it lies"):
            receive(order, 1, place="  ")
        assert not Receipt.objects.exists()

    def test_a_draft_a_cancelled_and_a_received_order(self, organisation, user, order, receive):
        receive(order, 100, 20)
        with pytest.raises(ValidationError, match="is received; nothing of it is on order"):
            receive(order, 1)
        other = sent_order(organisation, 5)
        sending.cancel_order(organisation=organisation, user=user, order=other, reason="no")
        with pytest.raises(ValidationError, match="is cancelled; nothing of it is on order"):
            receive(other, 1)

    def test_goods_have_come_so_it_is_not_cancelled(self, organisation, user, order, receive):
        receive(order, 1)
        with pytest.raises(ValidationError, match=r"have come, so it cannot be cancelled"):
            sending.cancel_order(organisation=organisation, user=user, order=order, reason="no")

    def test_a_line_of_another_order(self, organisation, user, order):
        other = sent_order(OrganisationFactory(), 9)
        with pytest.raises(ValidationError, match="is not on this order"):
            receiving.receive_goods(
                organisation=organisation,
                user=user,
                order=order,
                arrivals=[Arrival(other.lines.get().pk, 1)],
                received_on=DAY,
                token="t",
                place="Rack",
            )

    def test_a_line_that_stands_there_twice(self, organisation, user, order):
        arrivals = [Arrival(order.lines.first().pk, 60), Arrival(order.lines.first().pk, 40)]
        with pytest.raises(ValidationError, match=r"A line stands on the receipt twice\. Add its pieces up"):
            receiving.receive_goods(
                organisation=organisation,
                user=user,
                order=order,
                arrivals=arrivals,
                received_on=DAY,
                token="t",
                place="Rack",
            )
        assert not Lot.objects.exists()

    def test_past_the_services(self, order, receive):
        receipt = receive(order, 5)
        for rows, change in (
            (Receipt.objects.filter(pk=receipt.pk), {"paper": "other"}),
            (receipt.lines.all(), {"arrived": 6}),
            (order.lines.all(), {"arrived": 6}),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                rows.update(**change)


class TestOnce:
    def test_the_same_form_twice_is_one_receipt(self, order, receive, organisation):
        first = receive(order, 60, token="form-1")
        second = receive(order, 60, token="form-1")
        assert first == second
        assert (Receipt.objects.count(), Lot.objects.get().on_hand) == (1, 60)
        recount(organisation)

    def test_a_form_of_another_organisation_is_another_form(self, order, receive):
        other = sent_order(MembershipFactory().organisation, 100)
        theirs = receiving.receive_goods(
            organisation=other.organisation,
            user=None,
            order=other,
            arrivals=[Arrival(other.lines.get().pk, 7)],
            received_on=DAY,
            token="form-1",
            place="Rack",
        )
        mine = receive(order, 60, token="form-1")
        assert (theirs.same, mine.order, order.lines.first().arrived) == (False, order, 60)

    def test_a_receipt_that_came_in_between_is_shown_first(self, order, receive):
        receive(order, 60, paper="DN 77", seen=0)
        with pytest.raises(ValidationError, match="wrote receipt 1 on this order with delivery note DN 77"):
            receive(order, 60, seen=0)
        assert Lot.objects.count() == 1
        receive(order, 40, seen=1)
        assert Lot.objects.count() == 2


class TestReverse:
    def test_everything_is_as_before(self, order, receive, reverse, organisation):
        receipt = receive(order, {"arrived": 100, "damaged": 3, "damage_reason": "bent"}, 20)
        reverse(receipt)
        order.refresh_from_db()
        assert order.state == State.SENT
        assert [row.to_come for row in order.lines.all()] == [100, 20]
        assert set(Lot.objects.values_list("on_hand", flat=True)) == {0}
        recount(organisation)
        receive(order, 100, 20)
        assert order.state == State.RECEIVED
        recount(organisation)

    def test_not_when_pieces_are_gone(self, order, receive, reverse, organisation, user):
        receipt = receive(order, 60, 20)
        lot = Lot.objects.get(on_hand=60)
        stock.scrap(organisation=organisation, user=user, lot=lot, quantity=1, reason="bent")
        with pytest.raises(
            ValidationError, match=f"{lot} has 59 pieces left of the 60 that came, so the receipt cannot"
        ):
            reverse(receipt)
        assert Receipt.objects.count() == 1
        recount(organisation)

    def test_not_behind_the_back_of_the_order(self, order, receive, organisation, user):
        receive(order, 60)
        with pytest.raises(ValidationError, match=f"came by {order.number} receipt 1. Reverse that on the page"):
            ledger.reverse(organisation=organisation, user=user, movement=Movement.objects.get(), reason="wrong")
        recount(organisation)

    def test_once_and_no_reversal_of_a_reversal(self, order, receive, reverse):
        receipt = receive(order, 60)
        with pytest.raises(ValidationError, match="Say why"):
            reverse(receipt, " ")
        back = reverse(receipt)
        with pytest.raises(ValidationError, match="has been reversed already"):
            reverse(receipt)
        with pytest.raises(ValidationError, match="is a reversal itself"):
            reverse(back)

    def test_a_received_order_waits_again(self, order, receive, reverse):
        receive(order, 50)
        second = receive(order, 50, 20)
        assert order.state == State.RECEIVED
        reverse(second)
        order.refresh_from_db()
        assert order.state == State.PART


class TestShort:
    def test_the_rest_is_closed_with_a_reason(self, order, receive, organisation, user):
        given = {"organisation": organisation, "user": user, "order": order}
        with pytest.raises(ValidationError, match="cancel it instead"):
            sending.close_short(**given, reason="no longer made")
        receive(order, 60)
        first, second = order.lines.all()
        assert sending.close_short(**given, line=first, reason="no longer made") == 1
        order.refresh_from_db()
        assert order.state == State.PART
        assert sending.close_short(**given, reason="out of stock") == 1
        order.refresh_from_db()
        second.refresh_from_db()
        assert (order.state, second.closed_reason, second.closed_by) == (State.RECEIVED, "out of stock", user)
        recount(organisation)

    def test_a_reversal_opens_it_again(self, order, receive, reverse, organisation, user):
        receipt = receive(order, 60, 20)
        sending.close_short(organisation=organisation, user=user, order=order, reason="no longer made")
        reverse(receipt)
        order.refresh_from_db()
        assert order.state == State.SENT
        assert [row.to_come for row in order.lines.all()] == [100, 20]


def test_many_lines_in_under_fifty_queries(organisation, user, receive, reverse):
    lines = sized(150, 500)
    order = sent_order(organisation, *range(1, lines + 1))
    with CaptureQueriesContext(connection) as asked:
        receipt = receive(order, *({"arrived": n, "place": f"Bay {n % 9}"} for n in range(1, lines + 1)))
    assert len(asked) < 50
    assert order.state == State.RECEIVED
    assert Lot.objects.filter(on_hand__gt=0).count() == lines
    recount(organisation)
    with CaptureQueriesContext(connection) as asked:
        reverse(receipt)
    assert len(asked) < 50
    recount(organisation)


def test_a_line_stands_on_a_receipt_once_and_holds_so_many(order, receive, organisation, user):
    [line, _] = order.lines.all()
    twice = [Arrival(line.pk, arrived=1), Arrival(line.pk, arrived=2)]
    given = {"received_on": DAY, "place": "Barn rack"}
    with pytest.raises(ValidationError, match="stands on the receipt twice"):
        receiving.receive_goods(
            organisation=organisation, user=user, order=order, arrivals=twice, token=str(uuid4()), **given
        )
    receive(order, 1)
    with pytest.raises(ValidationError, match="Type a whole number from 0 to"):
        receive(order, MAX_QUANTITY)
    assert Receipt.objects.count() == 1
