"""How numbers are read and written by their decimal sign.

ISO 80000-1:2022, 7.3: the decimal sign is a point or a comma on the line; groups of three are parted by a small space.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import (
    POINT,
    THIN_SPACE,
    NumberError,
    NumberStyle,
    current_style,
    format_count,
    format_decimal,
    read_decimal,
    read_whole,
    typed_as,
    use_style,
)

COMMA = NumberStyle(",", THIN_SPACE)

READ = [
    (POINT, "1234.5", "1234.5"),
    (POINT, "1,234.50", "1234.50"),
    (POINT, "1,234,567", "1234567"),
    (POINT, "0.123", "0.123"),
    (POINT, "1.234", "1.234"),
    (POINT, "1 234.5", "1234.5"),
    (POINT, ".5", "0.5"),
    (POINT, "-3.5", "-3.5"),
    (POINT, "−3", "-3"),
    (COMMA, "0,123", "0.123"),
    (COMMA, "3,750", "3.750"),
    (COMMA, "12,50", "12.50"),
    (COMMA, "1.234,56", "1234.56"),
    (COMMA, "1 234,56", "1234.56"),
    (COMMA, f"1{THIN_SPACE}234", "1234"),
    (COMMA, "1.234.567", "1234567"),
]
REFUSED = [
    (POINT, "3,750", ("3750", "3.750")),
    (POINT, "1,234", ("1234", "1.234")),
    (COMMA, "1.234", ("1234", "1,234")),
    (COMMA, "1.000", ("1000", "1,000")),
    (POINT, "0,123", ()),
    (POINT, "12,50", ()),
    (POINT, "1.234,56", ()),
    (COMMA, "12.50", ()),
    (COMMA, "1,234.56", ()),
    (POINT, "12,34,567", ()),
    (POINT, "1,234,56", ()),
    (POINT, "1'234", ()),
    (POINT, "1e3", ()),
    (POINT, "--1", ()),
    (POINT, "²", ()),
    (POINT, "", ()),
    (POINT, "1" * 41, ()),
]


@pytest.mark.parametrize(("style", "typed", "meant"), READ)
def test_what_is_read(style: NumberStyle, typed: str, meant: str) -> None:
    assert read_decimal(typed, style) == Decimal(meant)


@pytest.mark.parametrize(("style", "typed", "readings"), REFUSED)
def test_what_could_be_two_numbers_is_refused_with_both(
    style: NumberStyle, typed: str, readings: tuple[str, ...]
) -> None:
    with pytest.raises(NumberError) as refused:
        read_decimal(typed, style)
    assert refused.value.readings == readings
    for reading in readings:
        assert reading in str(refused.value)
        read_decimal(reading, style)


@pytest.mark.parametrize(
    ("style", "typed", "meant"),
    [
        (POINT, "1,200", 1200),
        (COMMA, "1.200", 1200),
        (POINT, "1 200", 1200),
        (POINT, "24", 24),
        (COMMA, "2,5", None),
        (POINT, "2,5", None),
        (COMMA, "1,200", None),
        (POINT, "1.200", None),
        (POINT, "100.0", None),
        (COMMA, "100,0", None),
        (POINT, "100,0", None),
        (POINT, "1,5", None),
    ],
)
def test_whole_numbers(style: NumberStyle, typed: str, meant: int | None) -> None:
    if meant is not None:
        assert read_whole(typed, style) == meant
        return
    with pytest.raises(NumberError):
        read_whole(typed, style)


@given(
    st.decimals(min_value=0, max_value=10**12, allow_nan=False, allow_infinity=False, places=4),
    st.sampled_from([POINT, COMMA, NumberStyle(".", THIN_SPACE)]),
)
def test_what_is_written_is_read_back_or_asked_about_never_another_number(value: Decimal, style: NumberStyle) -> None:
    for shown in (format_decimal(value, style=style), typed_as(value, style), format_decimal(value, 0, style=style)):
        try:
            read = read_decimal(shown, style)
        except NumberError as error:
            # Only a single group marked by a comma can be taken for a decimal.
            assert error.readings and style.group == "," and "." not in shown
        else:
            assert abs(read - value) <= Decimal("0.5") and (shown != typed_as(value, style) or read == value)


@given(st.text(alphabet="0123456789.,  -", max_size=12))
def test_two_people_never_read_two_numbers_of_one_text(text: str) -> None:
    """Where both styles take a text, it is one number, or its sign is the decimal sign of whoever reads it."""
    readings = set()
    for style in (POINT, COMMA):
        try:
            readings.add(read_decimal(text, style))
        except NumberError:
            return
    assert len(readings) == 1


def test_the_style_in_force() -> None:
    assert current_style() == POINT
    with use_style(COMMA):
        assert format_count(12_345) == f"12{THIN_SPACE}345"
        assert format_decimal(Decimal("1234.5"), 2) == f"1{THIN_SPACE}234,50"
        assert read_decimal("12,5") == Decimal("12.5")
    assert format_count(12_345) == "12,345"
    assert format_decimal(0.1 + 0.2, 1) == "0.3"
