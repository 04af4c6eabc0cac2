"""A bill that comes after its goods: stock is repriced, who has the rest bears it, and no movement changes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from farmbuild.buying import receiving
from farmbuild.buying.invoices import selectors
from farmbuild.buying.invoices.services import reverse_invoice
from farmbuild.buying.models import AdjustmentShare, CostAdjustment
from farmbuild.buying.sending import close_short
from farmbuild.stock import ledger
from farmbuild.stock import services as stock
from farmbuild.stock.cost_selectors import stock_books
from farmbuild.stock.cutting import cut_sticks
from farmbuild.stock.models import CostShare, Lot, Movement, Repricing
from tests.buying.invoices.bought import bill, example_order, receive
from tests.buying.sent_order import sent_order
from tests.factories import FOOT, HouseFactory, PlaceFactory

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def house(organisation):
    return HouseFactory(site__organisation=organisation)


def in_stock(organisation) -> Decimal:
    return sum(Lot.objects.of(organisation).values_list("value", flat=True), D(0))


def all_of_it(organisation) -> Decimal:
    """Stock, houses, what is lent, general expense, and what adjustments charged: where every coin received is."""
    books = stock_books(organisation=organisation)
    assert books.off == 0
    adjusted = sum(selectors.adjusted_of(organisation=organisation).values(), D(0))
    return books.on_hand + books.lent + books.members + books.houses + books.jobs + books.general + adjusted


def test_received_whole_stock_is_worth_the_total(organisation, user):
    receive(example_order(organisation), user, 60, 9, 8)
    assert in_stock(organisation) == D("1430.24")
    assert [str(lot.unit_cost) for lot in Lot.objects.order_by("pk")] == ["16.4928", "41.1189", "8.8250"]


def test_what_went_out_bears_its_part(organisation, user, house):
    """Of ten rails four are in a house, one was scrapped, two were moved: a bill 20 dearer is 2 more for each."""
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    own = {"organisation": organisation, "user": user}
    lot = Lot.objects.get()
    stock.issue_pieces(**own, lot=lot, quantity=4, house=house, reason="framing")
    stock.scrap(**own, lot=lot, quantity=1, reason="bent")
    moved = ledger.move_pieces(**own, lot=lot, quantity=2, place=PlaceFactory(organisation=organisation))
    before = list(Movement.objects.order_by("pk").values_list("pk", "amount"))
    shares = list(CostShare.objects.order_by("pk").values_list("pk", "amount"))
    invoice = bill(order, user, 10, prices=["15"])
    assert list(Movement.objects.order_by("pk").values_list("pk", "amount")) == before
    assert list(CostShare.objects.order_by("pk").values_list("pk", "amount")) == shares
    lot.refresh_from_db()
    moved.refresh_from_db()
    assert (lot.value, lot.unit_cost, moved.value, moved.unit_cost) == (D(45), D(15), D(30), D(15))
    assert selectors.adjusted_of(organisation=organisation) == {(house.pk, None): D(8), (None, None): D(2)}
    assert all_of_it(organisation) == D(150)
    reverse_invoice(**own, invoice=invoice, reason="another farm's")
    lot.refresh_from_db()
    moved.refresh_from_db()
    assert (lot.value, moved.value) == (D(39), D(26))
    assert set(selectors.adjusted_of(organisation=organisation).values()) == {D(0)}
    assert all_of_it(organisation) == D(130)


def test_what_is_all_in_a_house_reprices_nothing(organisation, user, house):
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    own = {"organisation": organisation, "user": user}
    stock.issue_pieces(**own, lot=Lot.objects.get(), quantity=10, house=house, reason="framing")
    bill(order, user, 10, prices=["15"])
    assert selectors.adjusted_of(organisation=organisation, houses=[house.pk]) == {(house.pk, None): D(20)}
    assert not Repricing.objects.exists()
    assert all_of_it(organisation) == D(150)


def test_sticks_that_were_cut_are_followed_into_their_pieces(organisation, user, house):
    """Of ten 10' rails four are cut into 6' and 3' pieces; three of the long ones are in a house."""
    order = sent_order(organisation, 10, price="13.00")
    receive(order, user, 10)
    own = {"organisation": organisation, "user": user}
    cut = cut_sticks(**own, lot=Lot.objects.get(), sticks=4, pieces=[FOOT * 6, FOOT * 3])
    long = next(lot for lot in cut.pieces if lot.length == FOOT * 6)
    stock.issue_pieces(**own, lot=long, quantity=3, house=house, reason="framing")
    bill(order, user, 10, prices=["15"])
    # Two more a stick: 8 for those cut, of it two thirds long, of it three quarters in the house.
    assert selectors.adjusted_of(organisation=organisation) == {(house.pk, None): D("4.00")}
    assert in_stock(organisation) == D(150) - D("26.00") - D("4.00")
    assert all_of_it(organisation) == D(150)


def test_a_receipt_that_was_billed_is_reversed_to_the_coin(organisation, user, house):
    """Pieces went to a house, the bill came, they came back, and the receipt was wrong: nothing is left anywhere."""
    order = sent_order(organisation, 10, price="13.00")
    wrong = receive(order, user, 10)
    lot = Lot.objects.get()
    own = {"organisation": organisation, "user": user}
    issued = stock.issue_pieces(**own, lot=lot, quantity=4, house=house, reason="framing")
    bill(order, user, 10, prices=["15"])
    with pytest.raises(ValidationError, match="so the receipt cannot be reversed"):
        receiving.reverse_receipt(**own, receipt=wrong, reason="wrong pile")
    ledger.reverse(**own, movement=issued, reason="not taken")
    receiving.reverse_receipt(**own, receipt=wrong, reason="wrong pile")
    lot.refresh_from_db()
    assert (lot.on_hand, lot.value) == (0, 0)
    assert set(selectors.adjusted_of(organisation=organisation).values()) <= {D(0)}
    assert selectors.received_cost_of(order=order) == (0, 0)
    # The bill stands, and the goods come after all.
    receive(order, user, 10)
    assert in_stock(organisation) == D(150)


def test_a_bill_that_costs_less_never_makes_a_lot_worth_less_than_nothing(organisation, user, house):
    order = sent_order(organisation, 3, price="13.00")
    receive(order, user, 3)
    lot = Lot.objects.get()
    stock.issue_pieces(organisation=organisation, user=user, lot=lot, quantity=1, house=house, reason="framing")
    bill(order, user, 3, prices=["0"])
    lot.refresh_from_db()
    assert lot.value == 0 and all_of_it(organisation) == 0
    assert CostAdjustment.objects.get().amount == D(-39)
    assert sum(AdjustmentShare.objects.values_list("amount", flat=True)) == D(-13)


@pytest.mark.parametrize("currency", ["JPY", "KWD"])
def test_currencies_without_cents_and_with_three(organisation, user, currency):
    organisation.currency = currency
    organisation.save()
    coin = D(1) if currency == "JPY" else D("0.001")
    sums = {"currency": currency, "goods": 97 * coin, "delivery": 10 * coin, "tax": 7 * coin, "total": 114 * coin}
    line = {"unit_price": coin, "tax_percent": None}
    otherwise = {
        position: line | {"line_total": quantity * coin, "tax": tax * coin}
        for position, (quantity, tax) in enumerate([(89, 6), (8, 1)], 1)
    }
    order = sent_order(organisation, 89, 8, otherwise=otherwise, sums=sums)
    receive(order, user, 30, 3)
    receive(order, user, 59, 5)
    assert in_stock(organisation) == 114 * coin
    bill(order, user, 89, 8, delivery=20 * coin, tax=8 * coin)
    assert in_stock(organisation) == all_of_it(organisation) == 125 * coin


def test_an_order_that_is_closed_short_bears_what_is_billed(organisation, user, house):
    """20 of delivery are shared by what was ordered, 1 on each of 20 sticks; six never come. The bill brings all of it:
    160 over 14 sticks, and of 2 lots that is 110 + 40 + what each then bears more, to the coin."""
    sums = {"goods": D(200), "delivery": D(20), "total": D(220)}
    order = sent_order(organisation, 10, 10, price="10.00", sums=sums)
    receive(order, user, 10, 4)
    assert [lot.value for lot in Lot.objects.order_by("pk")] == [D(110), D(44)]
    used = Lot.objects.order_by("pk").last()
    stock.issue_pieces(organisation=organisation, user=user, lot=used, quantity=4, house=house, reason="framing")
    assert close_short(organisation=organisation, user=user, order=order, reason="no longer made") == 1
    order.refresh_from_db()
    assert order.state == "received"
    # Closing changes no cost; only what is billed does.
    assert all_of_it(organisation) == D(154)
    bill(order, user, 10, 4, delivery=D(20))
    assert all_of_it(organisation) == D(160)
    # By value: 20 x 100 / 140 = 14.29, 20 x 40 / 140 = 5.71.
    assert in_stock(organisation) == D("114.29")
    assert selectors.adjusted_of(organisation=organisation) == {(house.pk, None): D("1.71")}
