"""Quantities: whole numbers within bounds, anything else refused in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import QuantityError, parse_quantity


@pytest.mark.parametrize(
    ("text", "quantity"),
    [("24", 24), (" 1,200 ", 1200), ("２４", 24), ("10000000", 10_000_000), ("007", 7), ("1 000", 1000)],
)
def test_read_as_people_write_it(text, quantity):
    assert parse_quantity(text) == quantity


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no quantity"),
        ("0", "at least 1"),
        ("-3", "at least 1"),
        ("−0", "at least 1"),
        ("1000000000000", "at most 10,000,000"),
        ("9" * 41, "too long"),
        ("2.5", "not a whole number"),
        ("24.0", "not a whole number"),
        ("2,5", "not a whole number"),
        ("1e3", "cannot be read"),
        ("2²", "cannot be read"),
        ("½", "cannot be read"),
        ("nan", "cannot be read"),
        ("twelve", "cannot be read"),
        ("=1+1", "cannot be read"),
        ("1 00", "cannot be read"),
        ("1.200", "could be 1.200 or 1200"),
        ("100,0", "not a whole number"),
    ],
)
def test_what_is_no_quantity_is_refused(text, words):
    with pytest.raises(QuantityError, match=words) as refused:
        parse_quantity(text)
    assert "Type a whole number" in str(refused.value)


def test_nought_where_it_may_be():
    assert parse_quantity("0", least=0) == 0
    assert parse_quantity("50", most=50) == 50
    assert parse_quantity("0" * 39 + "7") == 7
    with pytest.raises(QuantityError, match="at most 50"):
        parse_quantity("51", most=50)


@given(st.text(max_size=50) | st.text("0123456789,.-+ ½²１٣", max_size=12))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        assert 1 <= parse_quantity(text) <= 10_000_000
    except QuantityError as refused:
        assert str(refused).endswith(".")


@given(st.integers(1, 10_000_000))
def test_what_is_shown_reads_back(quantity):
    assert parse_quantity(f"{quantity:,}") == parse_quantity(str(quantity)) == quantity
