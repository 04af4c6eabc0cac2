"""Money by currency: ISO 4217 decimal places, half up at the line."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import (
    POINT,
    THIN_SPACE,
    MoneyError,
    NumberStyle,
    format_money,
    from_minor,
    line_tax,
    line_total,
    parse_money,
    places,
    round_money,
    to_minor,
)


@pytest.mark.parametrize(
    ("amount", "currency", "rounded"),
    [
        ("2.345", "USD", "2.35"),
        ("2.355", "EUR", "2.36"),
        ("2.5", "JPY", "3"),
        ("2.3455", "KWD", "2.346"),
        ("2.3449", "USD", "2.34"),
        ("-2.345", "USD", "-2.35"),
    ],
)
def test_half_up_to_the_coins_of_the_currency(amount, currency, rounded):
    assert round_money(Decimal(amount), currency) == Decimal(rounded)


def test_decimal_places_of_the_standard():
    """ISO 4217 list of currency codes, minor units; what is not named here has two."""
    none = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
    three = "BHD IQD JOD KWD LYD OMR TND"
    assert {places(code) for code in none.split()} == {0}
    assert {places(code) for code in three.split()} == {3}
    two = "USD EUR GBP CHF HUF MXN ZAR INR"
    assert {places(code) for code in two.split()} == {2}


def test_each_line_is_rounded_before_its_tax():
    total = line_total(7, Decimal("1.335"), "USD")
    assert total == Decimal("9.35")  # 9.345
    assert line_tax(total, Decimal("8.25"), "USD") == Decimal("0.77")  # 0.771375
    assert line_tax(Decimal("0.50"), Decimal(5), "USD") == Decimal("0.03")  # 0.025, half up
    assert line_total(3, Decimal("12.5"), "JPY") == Decimal(38)


@given(st.text(max_size=40) | st.text("0123456789,.-$€ USDe²", max_size=20))
def test_any_text_is_an_amount_or_refused_in_words(text):
    try:
        amount = parse_money(text, "USD")
    except MoneyError as refused:
        assert str(refused).endswith(".")
    else:
        assert 0 <= amount < 10**12
        assert parse_money(format_money(amount, "USD"), "USD") == amount


def test_shown_with_the_currency():
    assert format_money(Decimal("2310.4"), "USD") == "$2,310.40"
    assert format_money(Decimal("0.0725"), "USD") == "$0.0725"
    assert format_money(Decimal("0.07254"), "USD") == "$0.0725"
    assert format_money(Decimal("1200"), "JPY") == "¥1,200"
    assert format_money(Decimal("-3"), "CHF") == "-CHF 3.00"
    assert format_money(Decimal("0"), "USD") == "$0.00"


@pytest.mark.parametrize("text", ["1234.50", "1,234.50", "$1,234.50", " 1234.5 USD"])
def test_read_as_people_write_it(text):
    assert parse_money(text, "USD") == Decimal("1234.5")


@pytest.mark.parametrize(
    "text", ["", ".", "-1", "−1", "$-1", "1e3", "$$1", "1234.50.", "nan", "1000000000000", "1.23456", "=1", "€5"]
)
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(MoneyError, match="Type it like"):
        parse_money(text, "USD")


COMMA = NumberStyle(",", THIN_SPACE)


@pytest.mark.parametrize(
    ("text", "style", "amount"),
    [
        ("1,234.50", POINT, "1234.50"),
        ("$1,234,567", POINT, "1234567"),
        ("0.085", POINT, "0.085"),
        ("0,123 €", COMMA, "0.123"),
        ("EUR 3,750", COMMA, "3.750"),
        ("12,50", COMMA, "12.50"),
        ("€1.234,56", COMMA, "1234.56"),
        ("1 234,56 EUR", COMMA, "1234.56"),
    ],
)
def test_amounts_are_read_by_the_decimal_sign(text, style, amount):
    assert parse_money(text, "EUR" if style == COMMA else "USD", style=style) == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "style", "said"),
    [
        ("3,750", POINT, "“3,750” could be 3750 or 3.750. Type it one of these ways."),
        ("$ 3,750", POINT, "“3,750” could be 3750 or 3.750. Type it one of these ways."),
        ("3.750", COMMA, "“3.750” could be 3750 or 3,750. Type it one of these ways."),
        ("0,123", POINT, "“0,123”: decimals take a point here. If you mean 0.123, type it so."),
        ("12.50", COMMA, "“12.50”: decimals take a comma here. If you mean 12,50, type it so."),
        ("-12,50", COMMA, "“-12,50” is below zero. Type it like 1234,50."),
    ],
)
def test_amounts_that_could_be_two_are_refused_with_both(text, style, said):
    with pytest.raises(MoneyError) as refused:
        parse_money(text, "USD", style=style)
    assert str(refused.value) == said
    assert bool(refused.value.readings) == ("could be" in said)


def test_read_up_to_the_most_there_is():
    assert parse_money("999999999999.99", "USD") == Decimal("999999999999.99")
    assert parse_money("1.2345", "USD") == Decimal("1.2345")
    assert parse_money("1.234567", "USD", most_places=6) == Decimal("1.234567")
    assert parse_money("12 CHF", "CHF") == parse_money("CHF 12", "CHF") == 12


def test_half_a_coin_is_no_coin():
    assert (to_minor(Decimal("1.25"), "USD"), to_minor(Decimal(12), "JPY"), to_minor(Decimal("0.5"), "KWD")) == (
        125,
        12,
        500,
    )
    with pytest.raises(ValueError, match="not a whole number of coins"):
        to_minor(Decimal("1.255"), "USD")


@given(st.integers(-(10**12), 10**12), st.sampled_from(["USD", "JPY", "KWD"]))
def test_coins_both_ways(coins, currency):
    assert to_minor(from_minor(coins, currency), currency) == coins
