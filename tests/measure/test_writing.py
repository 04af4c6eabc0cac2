"""Numbers as they are written: by decimal sign, and never so that they could be taken for a thousand times as much."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import (
    POINT,
    NumberStyle,
    UnitSystem,
    by_sign,
    count_noun,
    format_count,
    format_decimal,
    format_film,
    format_length,
    format_minutes,
    format_mm,
    format_money,
    format_off,
    format_signed,
    number_style,
    read_decimal,
    use_style,
)

METRIC_POINT = number_style(".", UnitSystem.METRIC)
COMMA = number_style(",", UnitSystem.METRIC)
#: What somebody reads as thousands and somebody else as decimals.
IN_DOUBT = re.compile(r"(?<![\d.,])[1-9]\d{0,2}[.,]\d{3}(?!\d)")


def test_only_feet_with_a_point_part_thousands_by_a_comma():
    assert number_style(".", UnitSystem.IMPERIAL) == POINT
    assert {
        number_style(sign, units).group for sign, units in ((".", "metric"), (",", "imperial"), (",", "metric"))
    } == {"\u202f"}


@pytest.mark.parametrize(
    ("style", "count", "money", "minutes", "decimal"),
    [
        (POINT, "12,345 sticks", "$1,234.50", "1,234 h", "1,234.5"),
        (METRIC_POINT, "12\u202f345 sticks", "$1\u202f234.50", "1\u202f234 h", "1\u202f234.5"),
        (COMMA, "12\u202f345 sticks", "$1\u202f234,50", "1\u202f234 h", "1\u202f234,5"),
    ],
    ids=["feet", "metric point", "comma"],
)
def test_everything_follows_the_style_in_force(style, count, money, minutes, decimal):
    with use_style(style):
        assert count_noun(12345, "stick") == count
        assert format_money(Decimal("1234.5"), "USD") == money
        assert format_minutes(1234 * 60) == minutes
        assert format_decimal(Decimal("1234.5")) == decimal
    assert format_count(12345) == "12,345"


@pytest.mark.parametrize("style", [POINT, METRIC_POINT, COMMA], ids=["feet", "metric point", "comma"])
def test_millimetres_are_parted_by_a_space_for_everybody(style):
    sign = style.decimal
    with use_style(style):
        assert format_length(Decimal("-1234567.5"), UnitSystem.METRIC) == "-1\u202f234\u202f568 mm"
        assert format_mm(Decimal("3900.25")) == f"3\u202f900{sign}25 mm"
        assert format_film(Decimal("0.1524"), UnitSystem.METRIC) == f"152{sign}4 µm"
        assert format_off(Decimal("-0.42"), UnitSystem.METRIC) == f"0{sign}4 mm short"
        assert format_off(Decimal("0.01"), UnitSystem.METRIC) == f"less than 0{sign}1 mm over"
        assert format_length(Decimal("2222.5"), UnitSystem.IMPERIAL) == "7' 3 1/2\""


def test_three_decimals_get_a_fourth_where_they_could_be_thousands():
    assert format_decimal(Decimal("2.375"), style=COMMA) == "2,3750"
    assert format_decimal(Decimal("2.375"), style=METRIC_POINT) == "2.3750"
    assert format_decimal(Decimal("0.375"), style=COMMA) == "0,375"
    assert format_decimal(Decimal("2.375")) == "2.375"
    with use_style(COMMA):
        assert format_money(Decimal("13.335"), "EUR") == "€13,3350"
        # Three decimals are the coins of this currency.
        assert format_money(Decimal("13.335"), "KWD") == "KWD 13,335"


@given(
    st.decimals(min_value=-(10**9), max_value=10**9, allow_nan=False, allow_infinity=False, places=6),
    st.integers(0, 5),
    st.sampled_from([METRIC_POINT, COMMA]),
)
def test_what_is_written_reads_back_and_is_never_in_doubt(value, places, style):
    shown = format_decimal(value, places, style)
    assert not IN_DOUBT.search(shown)
    assert read_decimal(shown, style) == value.quantize(Decimal(1).scaleb(-places), "ROUND_HALF_UP")


def test_signs():
    assert [format_signed(n) for n in (1200, -3, 0)] == ["+1,200", "−3", "0"]
    assert format_signed(Decimal("-0.004"), 2) == "0.00"
    assert (
        format_signed(
            -0.25,
            1,
        )
        == "−0.3"
    )


def test_examples_in_sentences_are_as_the_reader_types_them():
    said = "Type 12.50 or 0.5; by 12.05.2027, version 1.2.3."
    assert by_sign(said) == said
    assert by_sign(said, COMMA) == "Type 12,50 or 0,5; by 12.05.2027, version 1.2.3."
    assert by_sign("Up to 24.", NumberStyle(",", ".")) == "Up to 24."
