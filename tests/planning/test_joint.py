"""What each member of a joint order owes: the worked example to the cent, others of its kind, and shares worked out a
second time by fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure.money import places
from farmbuild.planning.buying.joint import Bill, DamageRule, Line, fewer, split
from tests.coop.joint.worked import MEMBERS, ORDERED, OWES, PIPE, RAIL

D = Decimal
LISTED, SHARED, COOP = DamageRule.LISTED, DamageRule.SHARED, DamageRule.COOP


def bill(*lines: Line, delivery: dict[int, str] | None = None, currency: str = "USD") -> Bill:
    return Bill(lines, {order: D(amount) for order, amount in (delivery or {}).items()}, currency)


def example(rule: DamageRule = LISTED) -> Bill:
    return bill(Line(1, RAIL, 197, D("2511.75"), D("156.98")), Line(1, PIPE, 24, D("816"), D("51")), delivery={1: "85"})


def test_the_worked_example_comes_out_to_the_cent():
    found = split(ORDERED, example(), LISTED)
    assert example().total == D("3620.73")
    rows = [
        (one.got[RAIL], one.got[PIPE], sum(one.goods), one.tax[0], one.tax[1], sum(one.delivery), one.owes)
        for one in found.members
    ]
    assert rows == [(m.rails, m.pipes, m.goods, m.rail_tax, m.pipe_tax, m.delivery, m.owes) for m in MEMBERS]
    assert [one.owes for one in found.members] == OWES
    assert (found.own.owes, sum(OWES)) == (0, D("3620.73"))


def test_rounding_member_by_member_would_give_three_cents_too_much():
    each = [round(m.rails * 12.75 * 0.0625 + 1e-9, 2) + round(m.pipes * 34 * 0.0625 + 1e-9, 2) for m in MEMBERS]
    assert round(sum(each) - 207.98, 2) == 0.03


@pytest.mark.parametrize(
    ("wanted", "missing", "rule", "less"),
    [
        ([61, 37, 29, 23], 3, LISTED, [1, 1, 1, 0]),
        ([1, 2, 0, 5], 5, LISTED, [1, 2, 0, 2]),
        ([1, 1], 2, LISTED, [1, 1]),
        ([50, 30, 20], 5, SHARED, [3, 1, 1]),
        ([1, 1, 1], 1, SHARED, [1, 0, 0]),
        ([4, 4], 0, SHARED, [0, 0]),
        ([2, 3], 3, COOP, [2, 1]),
    ],
)
def test_who_gets_fewer(wanted, missing, rule, less):
    assert fewer(wanted, missing, rule) == less


def test_more_than_is_wanted_cannot_be_missing():
    with pytest.raises(ValueError, match="no more is missing"):
        fewer([2, 1], 4, LISTED)


@pytest.mark.parametrize(
    ("rule", "goods"),
    [
        # Who gets one fewer pays for it all the same.
        (LISTED, ["40.00", "20.00", "0"]),
        # By the pieces that each wants: two thirds and a third of it.
        (SHARED, ["36.67", "23.33", "0"]),
        (COOP, ["30.00", "20.00", "10.00"]),
    ],
)
def test_damaged_pieces_that_nobody_credits_are_paid_by_the_rule(rule, goods):
    found = split([{RAIL: 4}, {RAIL: 2}], bill(Line(1, RAIL, 5, D(60), D(0), lost=1)), rule)
    assert [one.got[RAIL] for one in (*found.members, found.own)] == [3, 2, 0]
    assert [sum(one.goods) for one in (*found.members, found.own)] == [D(one) for one in goods]


def test_packs_that_bring_more_are_the_buyers_own_and_are_short_first():
    wanted = [{RAIL: 5}, {RAIL: 3}]
    found = split(wanted, bill(Line(1, RAIL, 10, D("100"), D("6.25")), delivery={1: "7"}), LISTED)
    assert [one.got[RAIL] for one in (*found.members, found.own)] == [5, 3, 2]
    assert [one.owes for one in (*found.members, found.own)] == [D("56.63"), D("33.97"), D("22.65")]
    damaged = split(wanted, bill(Line(1, RAIL, 8, D("80"), D("5"))), LISTED)
    assert [one.got[RAIL] for one in (*damaged.members, damaged.own)] == [5, 3, 0]


def test_a_member_with_nothing_owes_nothing_and_ties_go_to_the_first_listed():
    found = split([{}, {RAIL: 1}, {RAIL: 1}], bill(Line(1, RAIL, 2, D("20"), D("0.01")), delivery={1: "0.05"}), LISTED)
    assert [one.owes for one in found.members] == [D(0), D("10.04"), D("10.02")]


def test_two_suppliers_share_their_own_delivery():
    found = split(
        [{RAIL: 10}, {PIPE: 1}],
        bill(Line(1, RAIL, 10, D(100), D(0)), Line(2, PIPE, 1, D(40), D(0)), delivery={1: "30", 2: "9"}),
        LISTED,
    )
    assert [one.owes for one in found.members] == [D(130), D(49)]


def test_one_thing_of_two_suppliers_costs_all_the_same():
    found = split([{RAIL: 6}, {RAIL: 4}], bill(Line(1, RAIL, 8, D(80), D(0)), Line(2, RAIL, 2, D(30), D(0))), LISTED)
    assert [one.owes for one in found.members] == [D(66), D(44)]


@pytest.mark.parametrize(
    ("currency", "goods", "delivery", "owes"),
    [("JPY", "1000", "101", ["368", "367", "366"]), ("KWD", "10.000", "0.100", ["3.368", "3.366", "3.366"])],
)
def test_currencies_without_and_with_more_coins(currency, goods, delivery, owes):
    lines = [Line(1, RAIL, 3, D(goods), D(0))]
    found = split([{RAIL: 1}] * 3, bill(*lines, delivery={1: delivery}, currency=currency), LISTED)
    assert [one.owes for one in found.members] == [D(one) for one in owes]


def second(amount: Decimal, by: list[Fraction], currency: str) -> list[Fraction]:
    """Largest remainder once more, from its words: whole coins to each, then one by one to whoever misses most."""
    coin = Fraction(1, 10 ** places(currency))
    exact = [Fraction(amount) * part / sum(by) for part in by]
    given_ = [part // coin * coin for part in exact]
    while sum(given_) < Fraction(amount):
        misses = [whole - part for whole, part in zip(exact, given_, strict=True)]
        given_[misses.index(max(misses))] += coin
    return given_


@given(st.data())
def test_shares_are_those_of_an_independent_count(data):
    currency = data.draw(st.sampled_from(["USD", "JPY", "KWD"]))
    count = data.draw(st.integers(1, 9))
    wanted = [{RAIL: data.draw(st.integers(0, 40)), PIPE: data.draw(st.integers(0, 9))} for _ in range(count)]
    rule = data.draw(st.sampled_from(DamageRule))

    def line(item):
        total = sum(one[item] for one in wanted)
        whole = data.draw(st.integers(0, total + 5))
        price = data.draw(st.integers(1, 5000))
        tax = data.draw(st.integers(0, 9999)) if whole else 0
        return Line(1, item, whole, D(whole * price) * D(1).scaleb(-places(currency)),
                    D(tax).scaleb(-places(currency)))  # fmt: skip

    lines = [line(RAIL), line(PIPE)]
    some = any(one.whole for one in lines)
    delivery = D(data.draw(st.integers(0, 9999)) if some else 0).scaleb(-places(currency))
    found = split(wanted, Bill(lines, {1: delivery}, currency), rule)
    everybody = [*found.members, found.own]
    assert sum(one.owes for one in everybody) == Bill(lines, {1: delivery}, currency).total
    for k, item in enumerate((RAIL, PIPE)):
        got = [one.got[item] for one in everybody]
        assert sum(got) == lines[k].whole
        assert all(0 <= mine <= one[item] for mine, one in zip(got, wanted, strict=False))
        if lines[k].whole:
            price = Fraction(lines[k].goods) / lines[k].whole
            assert [Fraction(one.goods[k]) for one in everybody] == [price * mine for mine in got]
            by = [Fraction(mine) for mine in got]
            assert [Fraction(one.tax[k]) for one in everybody] == second(lines[k].tax, by, currency)
    if some:
        by = [sum(Fraction(part) for part in one.goods) for one in everybody]
        assert [sum(Fraction(part) for part in one.delivery) for one in everybody] == second(delivery, by, currency)


def test_a_bill_for_nothing_that_anybody_got_is_the_buyers_own():
    """Nothing came, and carriage and a fee are billed all the same: no member has a part to share them by."""
    found = split([{RAIL: 4}, {RAIL: 2}], bill(Line(1, RAIL, 0, D("12.34"), D("0.77")), delivery={1: "25"}), LISTED)
    assert [one.owes for one in found.members] == [0, 0]
    assert found.own.owes == D("38.11")
    assert [one.got[RAIL] for one in found.members] == [0, 0]
