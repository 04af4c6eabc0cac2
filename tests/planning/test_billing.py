"""Bills of a contract: of each kind its part and its tax, by fractions, and never a coin too many."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.planning.pricing.billing import Amounts, Part, bill_parts, kept_back, left_of, stage_amount, summed
from farmbuild.planning.pricing.quote import Kind
from tests.size import examples

D = Decimal
COIN = D("0.01")


def half_up(amount: Fraction) -> Decimal:
    return D((2 * amount * 100 + 1) // 2) / 100


def part(kind: Kind, percent: int, coins: int) -> Part:
    amount = coins * COIN
    return Part(kind, D(percent), amount, half_up(Fraction(amount) * percent / 100))


CONTRACTS = st.lists(
    st.builds(part, st.sampled_from(list(Kind)), st.sampled_from([0, 6, 19]), st.integers(0, 900)),
    min_size=1,
    max_size=5,
)


@examples(50)
@given(CONTRACTS, st.lists(st.integers(1, 60), min_size=1, max_size=6))
def test_each_bill_has_of_each_kind_its_part_and_the_tax_that_its_bills_grow_by(contract, weights):
    whole = sum(row.amount for row in contract)
    billed: list[Part] = []
    for at, weight in enumerate(weights):
        left = summed(contract)
        for row in billed:
            had = left[row.key]
            left[row.key] = Part(*row.key, had.amount - row.amount, had.tax - row.tax)
        assert left == left_of(contract, billed)
        open_ = sum(row.amount for row in left.values())
        last = at == len(weights) - 1
        amount = stage_amount(whole, D(weight), open_, last=last, currency="USD")
        assert amount == (open_ if last else min(open_, half_up(Fraction(whole) * weight / 100)))
        parts = bill_parts(contract, billed, amount, currency="USD")
        assert sum(row.amount for row in parts) == amount
        assert len({row.key for row in parts}) == len(parts)
        assert all(row.amount or row.tax for row in parts)
        for key, had in left.items():
            now = next((row for row in parts if row.key == key), Part(*key, D(0), D(0)))
            if open_:
                assert abs(Fraction(now.amount) - Fraction(amount * had.amount) / Fraction(open_)) < Fraction(1, 100)
            if now.amount == had.amount and now in parts:
                assert now.tax == had.tax
            elif now.amount:
                before = [row for row in billed if row.key == key]
                so_far = sum((row.amount for row in before), now.amount)
                grown = half_up(Fraction(so_far) * Fraction(key[1]) / 100) - sum(row.tax for row in before)
                assert now.tax == max(0, min(grown, had.tax))
            else:
                assert now.tax == 0
        billed += parts
    assert all(row.amount == row.tax == 0 for row in left_of(contract, billed).values())


@pytest.mark.parametrize("amount", [D("-0.01"), D("10.01")])
def test_a_bill_beyond_the_contract_is_refused(amount):
    with pytest.raises(ValueError, match="no more than is left"):
        bill_parts([part(Kind.WORK, 6, 1000)], [], amount, currency="USD")


def test_a_stage_asks_for_nothing_back():
    """A change took more away than is left."""
    assert stage_amount(D(100), D(30), D(-5), last=False, currency="USD") == 0
    assert stage_amount(D(100), D(30), D(-5), last=True, currency="USD") == -5


def test_a_bill_and_its_credit():
    bill = Amounts((part(Kind.WORK, 6, 1000), part(Kind.MATERIALS, 19, 500)), D("1.50"))
    assert (bill.billed, bill.tax, bill.due) == (D(15), D("1.55"), D("15.05"))
    back = bill.taken_back()
    assert (back.billed, back.tax, back.kept, back.due) == (D(-15), D("-1.55"), D("-1.50"), D("-15.05"))
    assert [row.key for row in back.parts] == [row.key for row in bill.parts]


def test_what_is_kept_back_grows_with_what_is_billed():
    """5 % of 10.10 is 0.505, half up; then of 20.20, 1.01 in all."""
    assert kept_back(D("10.10"), D(5), D(0), "USD") == D("0.51")
    assert kept_back(D("20.20"), D(5), D("0.51"), "USD") == D("0.50")
