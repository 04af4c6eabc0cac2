"""What came costs what was billed, to the coin, whatever came first: deliveries, bills, or parts of either."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import from_minor, line_tax, line_total, tax_within
from farmbuild.planning.buying.landed import (
    Arrival,
    Bill,
    Billed,
    BilledLine,
    Expected,
    Landed,
    OrderedLine,
    landed,
    landed_lines,
)

D = Decimal
#: Rail 60 x 14.60, pipe 9 x 36.40, anchors 8 x 7.8125 rounded: goods 1,266.10; with delivery 85 and 6.25 % on goods.
GOODS = [(1, 60, D("14.60")), (2, 9, D("36.40")), (3, 8, D("7.8125"))]


def order(recovered=False, included=False, delivery="85", currency="USD", percent="6.25", goods=GOODS) -> Expected:
    lines = [OrderedLine(key, quantity, price, D(percent)) for key, quantity, price in goods]
    return Expected(lines, D(delivery), included, recovered, currency)


def whole(expected: Expected) -> list[Arrival]:
    return [Arrival(line.key, line.key, line.quantity) for line in expected.lines]


def stock(found: dict[int, Landed]) -> Decimal:
    return sum((row.stock for row in found.values()), D(0))


def test_an_order_received_whole_adds_its_total():
    assert sum(line_total(quantity, price, "USD") for _, quantity, price in GOODS) == D("1266.10")
    assert stock(landed(order(), {}, D(0), whole(order()))) == D("1266.10") + 85 + D("54.75") + D("20.48") + D("3.91")
    assert stock(landed(order(recovered=True), {}, D(0), whole(order()))) == D("1266.10") + 85


def test_the_example_total_to_the_cent():
    bill = Bill(
        [BilledLine(1, 60, D("876.00")), BilledLine(2, 9, D("327.60")), BilledLine(3, 8, D("62.50"))],
        D("85"),
        D("79.14"),
        D("1430.24"),
    )
    # Delivery and tax, 164.14, by hand: 113.567.., 42.471.., 8.102..: the cent left over goes to 2.
    assert landed_lines(bill, "USD") == [D("989.57"), D("370.07"), D("70.60")]
    assert sum(landed_lines(bill, "USD")) == D("1430.24")


def test_tax_within_the_prices_is_taken_out_where_it_is_recovered():
    rows = [BilledLine(1, 10, D("120.00"), D(20)), BilledLine(2, 10, D("60.00"), D(0))]
    bill = Bill(rows, D("18.00"), D("20.00"), D("198.00"), tax_included=True, tax_recovered=True)
    assert landed_lines(bill, "USD") == [D("112.00"), D("66.00")]
    stays = Bill(rows, D("18.00"), D("20.00"), D("198.00"), tax_included=True)
    assert landed_lines(stays, "USD") == [D("132.00"), D("66.00")]


def test_what_the_total_has_beyond_its_parts_is_shared_too():
    bill = Bill([BilledLine(1, 1, D("30")), BilledLine(2, 1, D("70"))], D(0), D(0), D("95"))
    assert landed_lines(bill, "USD") == [D("28.50"), D("66.50")]


@pytest.mark.parametrize(
    ("included", "recovered", "kept"),
    [(True, True, "0.8"), (True, False, "1"), (False, True, "1"), (False, False, "1.25")],
)
def test_what_comes_beyond_the_order_or_at_another_price_costs_what_of_its_tax_stays(included, recovered, kept):
    """A quarter of tax on ten pieces of 10: within the price it is a fifth of it. Twelve came, and none is billed."""
    asked = order(recovered, included, "0", percent="25", goods=[(1, 10, D(10))])
    assert landed(asked, {}, D(0), [Arrival(1, 1, 12)])[1].stock == 120 * D(kept)
    assert landed(asked, {}, D(0), [Arrival(1, 1, 4, price=D(15))])[1].stock == 60 * D(kept)
    # Of three at 15 one is billed already, at 9.
    found = landed(asked, {1: Billed(1, D(9))}, D(0), [Arrival(1, 1, 3, price=D(15))])
    assert found[1].stock == 9 + 30 * D(kept)
    # Billed beyond the order, and more than that came.
    billed = {1: Billed(11, D(99))}
    assert landed(asked, billed, D(0), [Arrival(1, 1, 13)])[1].stock == 99 + 20 * D(kept)


def test_more_tax_than_was_billed_is_refused():
    with pytest.raises(ValueError, match="more tax"):
        landed_lines(Bill([BilledLine(1, 1, D(1))], D(0), D(5), D(4), tax_recovered=True), "USD")


def test_damaged_pieces_that_nobody_credits_are_an_expense():
    given = order(delivery="0", percent="0", goods=[(1, 10, D("2.50"))])
    assert landed(given, {}, D(0), [Arrival(1, 1, good=7, lost=3)]) == {1: Landed(D("17.50"), D("7.50"))}
    assert landed(given, {}, D(0), [Arrival(1, 1, good=0, lost=10)]) == {1: Landed(D(0), D("25.00"))}


def test_another_price_on_the_receipt_counts_until_it_is_billed():
    given = order(delivery="0", percent="10", goods=[(1, 10, D("2"))])
    came = [Arrival(1, 1, good=4, price=D("3")), Arrival(2, 1, good=6)]
    assert landed(given, {}, D(0), came) == {1: Landed(D("13.20")), 2: Landed(D("13.20"))}
    assert landed(given, {1: Billed(10, D("22.00"))}, D(0), came) == {1: Landed(D("8.80")), 2: Landed(D("13.20"))}


def test_delivery_is_expected_once():
    """The first half was billed with all of the delivery, so the second half brings none."""
    given = order(delivery="10", percent="0", goods=[(1, 10, D("2"))])
    came = [Arrival(1, 1, good=5), Arrival(2, 1, good=5)]
    assert landed(given, {}, D(0), came) == {1: Landed(D("15")), 2: Landed(D("15"))}
    assert landed(given, {1: Billed(5, D("20"))}, D("10"), came) == {1: Landed(D("20")), 2: Landed(D("10"))}


def test_delivery_billed_by_itself_is_borne_by_all_pieces_that_were_billed():
    """Ten ordered, twelve billed at 60.00 and their delivery at 24.00: half of them bear half of both."""
    given = order(delivery="0", percent="0", goods=[(1, 10, D("5"))])
    came = [Arrival(1, 1, good=6), Arrival(2, 1, good=6)]
    billed = {1: Billed(12, D("60"), beside=D("24"))}
    assert landed(given, billed, D(0), came) == {1: Landed(D("42")), 2: Landed(D("42"))}


CURRENCIES = st.sampled_from(["USD", "JPY", "KWD"])


@st.composite
def orders(draw) -> Expected:
    count = draw(st.integers(1, 4))
    price = st.decimals(0, 500, places=4, allow_nan=False, allow_infinity=False)
    percent = st.sampled_from([D(0), D("6.25"), D(20)])
    lines = [OrderedLine(key, draw(st.integers(1, 60)), draw(price), draw(percent)) for key in range(1, count + 1)]
    currency = draw(CURRENCIES)
    delivery = from_minor(draw(st.integers(0, 20_000)), currency)
    return Expected(lines, delivery, draw(st.booleans()), draw(st.booleans()), currency)


def bill_of(given: Expected, quantities: dict[int, int], delivery: Decimal) -> Bill:
    lines = [
        BilledLine(line.key, quantities[line.key], line_total(quantities[line.key], line.price, given.currency),
                   line.tax_percent)
        for line in given.lines
        if quantities.get(line.key)
    ]  # fmt: skip
    work = tax_within if given.tax_included else line_tax
    tax = sum((work(line.total, line.tax_percent, given.currency) for line in lines), D(0))
    goods = sum((line.total for line in lines), D(0))
    total = goods + delivery + (D(0) if given.tax_included else tax)
    return Bill(lines, delivery, tax, total, given.tax_included, given.tax_recovered)


def parts(draw, quantity: int) -> list[int]:
    """A quantity in up to four parts, none of them empty."""
    cuts = sorted(set(draw(st.lists(st.integers(1, quantity), max_size=3))) | {quantity})
    return [last - first for first, last in zip([0, *cuts], cuts, strict=False)]


@given(data=st.data(), given_order=orders())
def test_part_receipts_add_up_to_the_order(data, given_order):
    came = [(line.key, pieces) for line in given_order.lines for pieces in parts(data.draw, line.quantity)]
    came = data.draw(st.permutations(came))
    found = landed(given_order, {}, D(0), [Arrival(i, line, pieces) for i, (line, pieces) in enumerate(came)])
    all_of_it = bill_of(given_order, {line.key: line.quantity for line in given_order.lines}, given_order.delivery)
    assert stock(found) == all_of_it.cost
    assert all(row.stock >= 0 for row in found.values())


@given(data=st.data(), given_order=orders())
def test_bills_and_part_receipts_in_any_order_add_up_to_what_was_billed(data, given_order):
    """Whoever looks after each event and books the difference ends at the same sum: that of the bills."""
    currency = given_order.currency
    events: list[tuple] = []
    shares = {line.key: parts(data.draw, line.quantity) for line in given_order.lines}
    count = max(len(rows) for rows in shares.values())
    for i in range(count):
        quantities = {key: rows[i] for key, rows in shares.items() if i < len(rows)}
        delivery = from_minor(data.draw(st.integers(0, 9_000)), currency)
        events.append(("bill", bill_of(given_order, quantities, delivery)))
    events += [("came", line.key, pieces) for line in given_order.lines for pieces in parts(data.draw, line.quantity)]
    billed: dict[int, Billed] = {}
    delivered, paid = D(0), D(0)
    came: list[Arrival] = []
    booked: dict[int, Decimal] = {}
    for kind, *what in data.draw(st.permutations(events)):
        if kind == "bill":
            [bill] = what
            costs = landed_lines(bill, currency)
            assert sum(costs) == bill.cost and all(cost >= 0 for cost in costs)
            for line, cost in zip(bill.lines, costs, strict=True):
                before = billed.get(line.key, Billed())
                billed[line.key] = Billed(before.quantity + line.quantity, before.cost + cost)
            delivered, paid = delivered + bill.delivery, paid + bill.cost
        else:
            came.append(Arrival(len(came), *what))
        for key, row in landed(given_order, billed, delivered, came).items():
            booked[key] = booked.get(key, D(0)) + (row.stock - booked.get(key, D(0)))
    assert sum(booked.values()) == paid


@given(
    amounts=st.lists(st.integers(0, 100_000), min_size=1, max_size=6),
    delivery=st.integers(0, 50_000),
    tax=st.integers(0, 50_000),
    currency=CURRENCIES,
    included=st.booleans(),
    recovered=st.booleans(),
)
def test_each_line_gets_its_part_within_a_coin(amounts, delivery, tax, currency, included, recovered):
    goods, tax = sum(amounts), min(tax, sum(amounts) + delivery)
    lines = [BilledLine(key, 1, from_minor(amount, currency)) for key, amount in enumerate(amounts)]
    total = goods + delivery + (0 if included else tax)
    bill = Bill(lines, *(from_minor(value, currency) for value in (delivery, tax, total)), included, recovered)
    found = landed_lines(bill, currency)
    assert sum(found) == bill.cost
    if goods:
        for amount, cost in zip(amounts, found, strict=True):
            exact = Fraction(bill.cost) * amount / goods
            # Delivery and tax taken out are rounded one after the other.
            assert abs(Fraction(cost) - exact) <= 2 * Fraction(from_minor(1, currency))
