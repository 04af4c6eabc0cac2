"""Money by currency: ISO 4217 decimal places, half up at the line."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import MoneyError, format_money, from_minor, parse_money, round_money, to_minor


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [("2.345", "USD", "2.35"), ("2.355", "EUR", "2.36"), ("2.5", "JPY", "3"), ("2.3455", "KWD", "2.346")],
)
def test_half_up_to_the_coins_of_the_currency(amount, currency, rounded):
    assert round_money(Decimal(amount), currency) == Decimal(rounded)


def test_shown_with_the_currency():
    assert format_money(Decimal("2310.4"), "USD") == "$2,310.40"
    assert format_money(Decimal("0.0725"), "USD") == "$0.0725"
    assert format_money(Decimal("1200"), "JPY") == "¥1,200"
    assert format_money(Decimal("-3"), "CHF") == "-CHF 3.00"
    assert format_money(Decimal("0"), "USD") == "$0.00"


@pytest.mark.parametrize("text", ["1234.50", "1,234.50", "$1,234.50", " 1234.5 USD"])
def test_read_as_people_write_it(text):
    assert parse_money(text, "USD") == Decimal("1234.5")


@pytest.mark.parametrize("text", ["", ".", "-1", "1e3", "12,34", "nan", "1000000000000", "1.23456", "=1", "€5"])
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(MoneyError, match="Type it like"):
        parse_money(text, "USD")


@given(st.integers(-(10**12), 10**12), st.sampled_from(["USD", "JPY", "KWD"]))
def test_coins_both_ways(coins, currency):
    assert to_minor(from_minor(coins, currency), currency) == coins
