"""Lengths: everything accepted is exact, everything refused says where and how to type it."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import (
    POINT,
    THIN_SPACE,
    LengthError,
    NumberStyle,
    Unit,
    UnitSystem,
    format_both,
    format_length,
    parse_length,
    parse_lengths,
    to_grid,
    use_style,
)
from farmbuild.measure.usual import longer_than_any
from tests.size import examples


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("12'", 144),
        ("7' 3 1/2\"", Fraction(175, 2)),
        ("7' 3-1/2\"", Fraction(175, 2)),
        ("7'3½\"", Fraction(175, 2)),
        ("7’ 3½”", Fraction(175, 2)),
        ("7′ 3 ½″", Fraction(175, 2)),
        ("7ft 3-1/2in", Fraction(175, 2)),
        ("7 feet 3 1/2 inches", Fraction(175, 2)),
        ("7' - 3\"", 87),
        ("7' 3", 87),
        ('93.5"', Fraction(187, 2)),
        ('93 1/2"', Fraction(187, 2)),
        ('1/64"', Fraction(1, 64)),
        ("５'", 60),
        ("93.5", Fraction(187, 2)),
    ],
)
def test_feet_and_inches(text, inches):
    """1 in is 25.4 mm exactly (international yard and pound agreement, 1959)."""
    assert Fraction(parse_length(text, Unit.INCH)) == inches * Fraction(254, 10)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("2.38 m", "2380"),
        ("2380 mm", "2380"),
        ("2 380 mm", "2380"),
        ("2\u202f380 mm", "2380"),
        ("1,234,567 mm", "1234567"),
        ("238cm", "2380"),
        ("2.38 metres", "2380"),
        ("2.38", "2380"),
    ],
)
def test_metric(text, millimetres):
    assert parse_length(text, Unit.METRE) == Decimal(millimetres)


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("", 0),
        ("   ", 0),
        ("long", 0),
        ("1e5", 1),
        ("nan", 0),
        ("inf", 0),
        ("-3'", 0),
        ("7' 30 mm", 3),
        ("2 m 30 cm", 4),
        ("7' 12\"", 3),
        ("7' 3\" 4", 6),
        ("3/0", 2),
        ("2.38.1", 0),
        ('1/3"', 0),
        ("99999999 m", 0),
        ("1" * 200, 0),
        ("1" * 59, 0),
        ("1" * 55 + " mm", 0),
        ("0." + "1" * 50 + " mm", 0),
        ("93²", 2),
        ('93¹⁄₂"', 2),
        ("①", 0),
        ('3 5/2"', 2),
        ("5' 11 16/16\"", 6),
        ("7.5' 3\"", 5),
        ("9½½", 2),
        ("十二", 0),
        ("=1+1", 0),
    ],
)
def test_what_cannot_be_read_is_refused_at_its_place(text, position):
    with pytest.raises(LengthError) as refused:
        parse_length(text, Unit.FOOT)
    assert refused.value.position == position
    assert "Type it like 12'" in str(refused.value)


def test_below_zero_only_where_asked():
    assert parse_length('-3 1/2"', Unit.INCH, allow_negative=True) == Decimal("-88.9")


#: Text made of the pieces that lengths are made of is read far more often than any text at all.
FIGURES = ["1", "2", "0", "7", "12", "93", "000", "1/2", "3/64", "½", "¾", "²", "１", "9" * 30]
MARKS = [".", ",", "-", "–", "/", "⁄", " ", "\u00a0", "'", '"', "’", "”", "″", "e"]
WORDS = ["ft", "in", "mm", "cm", "m", "inches", "feet", "metre"]
PIECES = st.lists(st.sampled_from([*FIGURES, *MARKS, *WORDS]), max_size=12).map("".join)


@examples(600)
@given(st.text(max_size=70) | PIECES)
def test_any_text_is_read_exactly_or_refused_in_words(text):
    try:
        length = parse_length(text, Unit.MILLIMETRE)
    except LengthError as refused:
        assert str(refused).endswith(".")
        assert 0 <= refused.position <= len(text)
    else:
        assert length == length.quantize(Decimal("0.000001"))
        assert 0 <= length <= 10_000_000


SPELLINGS = [
    "{feet}' {inches} {top}/{below}\"",
    "{feet}’{inches}-{top}/{below}”",
    "{feet} ft {inches} {top}/{below} in",
    "{feet}ft. {inches}-{top}⁄{below}in.",
    " {feet} FEET  {inches} {top}/{below} Inches ",
    "{feet}′ - {inches} {top} / {below}″",
]


@given(st.sampled_from(SPELLINGS), st.integers(0, 900), st.integers(0, 11), st.integers(0, 63))
def test_every_spelling_of_feet_and_inches_says_the_same(spelling, feet, inches, top):
    text = spelling.format(feet=feet, inches=inches, top=top, below=64)
    inch = feet * 12 + inches + Fraction(top, 64)
    assert Fraction(parse_length(text, Unit.MILLIMETRE)) == inch * Fraction(254, 10)


@given(st.integers(0, 64 * 12 * 1000))
def test_sixty_fourths_are_exact(parts):
    assert parse_length(f"{parts}/64 in", Unit.FOOT) == parts * Decimal("0.396875")


@given(st.integers(0, 16 * 12 * 1000))
def test_what_is_shown_reads_back_to_the_sixteenth(parts):
    length = parts * Decimal("1.5875")
    assert parse_length(format_length(length, UnitSystem.IMPERIAL), Unit.INCH) == length


@given(st.decimals(0, 10**6, places=6))
def test_what_is_shown_is_within_half_a_step(length):
    for system, half_step in ((UnitSystem.IMPERIAL, Decimal("0.79375")), (UnitSystem.METRIC, Decimal("0.5"))):
        assert abs(parse_length(format_length(length, system).replace(",", ""), Unit.INCH) - length) <= half_step


@pytest.mark.parametrize(
    ("text", "refused"), [("10000 m", False), ("10000.000001 mm", False), ("10000.000000001 m", True)]
)
def test_up_to_ten_kilometres(text, refused):
    if refused:
        with pytest.raises(LengthError, match="longer than any stick or house"):
            parse_length(text, Unit.FOOT)
    else:
        assert parse_length(text, Unit.FOOT) <= 10_000_000


def test_up_to_sixty_characters():
    assert parse_length(" " * 57 + "3mm", Unit.FOOT) == 3
    with pytest.raises(LengthError, match="61 characters long"):
        parse_length(" " * 58 + "3mm", Unit.FOOT)


COMMA = NumberStyle(",", THIN_SPACE)


@pytest.mark.parametrize(
    ("text", "unit", "style", "millimetres"),
    [
        ("2,38 m", Unit.MILLIMETRE, COMMA, "2380"),
        ("3,5 mm", Unit.METRE, COMMA, "3.5"),
        ("12,7", Unit.MILLIMETRE, COMMA, "12.7"),
        ("3 900 mm", Unit.METRE, COMMA, "3900"),
        ("3\u202f900 mm", Unit.METRE, COMMA, "3900"),
        ("3\u2009900,5 mm", Unit.METRE, COMMA, "3900.5"),
        ("3.900,5 mm", Unit.METRE, COMMA, "3900.5"),
        ("3,900 mm", Unit.METRE, COMMA, "3.9"),
        ("3 900 mm", Unit.FOOT, POINT, "3900"),
        ("7 3/8", Unit.INCH, POINT, "187.325"),
        ("7' 3 1/2\"", Unit.FOOT, COMMA, "2222.5"),
        ("7 375/1000", Unit.INCH, POINT, "187.325"),
        ("1 234 1/2 in", Unit.INCH, POINT, "31356.3"),
    ],
)
def test_numbers_of_lengths_are_read_by_the_decimal_sign(text, unit, style, millimetres):
    assert parse_length(text, unit, style=style) == Decimal(millimetres)
    with use_style(style):
        assert parse_length(text, unit) == Decimal(millimetres)


@pytest.mark.parametrize(
    ("text", "style", "said"),
    [
        ("3,900 mm", POINT, "“3,900” could be 3900 or 3.900. Type it like 3900 mm or 3.900 mm."),
        ("2,380", POINT, "“2,380” could be 2380 or 2.380. Type it like 2380 m or 2.380 m."),
        ("3.900 mm", COMMA, "“3.900” could be 3900 or 3,900. Type it like 3900 mm or 3,900 mm."),
        ("2,38 m", POINT, "“2,38”: decimals take a point here. Type it like 2.38 m."),
        ("2.38 m", COMMA, "“2.38”: decimals take a comma here. Type it like 2,38 m."),
        (
            "1'200 mm",
            COMMA,
            "Only inches can follow feet; units cannot be mixed at character 3. Type it like 2,38 m or 2380 mm.",
        ),
        ("1,200'", POINT, "“1,200” could be 1200 or 1.200. Type it like 1200 ft or 1.200 ft."),
        ("3,", POINT, "“,” cannot be read here at character 2. Type it like 2.38 m or 2380 mm."),
        ("3 90 mm", POINT, "“90 mm” cannot be read here at character 3. Type it like 2.38 m or 2380 mm."),
    ],
)
def test_what_could_be_two_lengths_is_refused_with_both(text, style, said):
    with pytest.raises(LengthError) as refused:
        parse_length(text, Unit.METRE, style=style)
    assert str(refused.value) == said


@pytest.mark.parametrize(
    ("millimetres", "metric", "imperial"),
    [
        ("0.499999", "0 mm", '0"'),
        ("0.5", "1 mm", '0"'),
        ("0.79375", "1 mm", '1/16"'),
        ("0.793749", "1 mm", '0"'),
        ("-0.79375", "-1 mm", '-1/16"'),
        ("-2.5", "-3 mm", '-1/8"'),
        ("2.5", "3 mm", '1/8"'),
        ("25.4", "25 mm", '1"'),
        ("304.8", "305 mm", "1'"),
        ("304.00625", "304 mm", "1'"),
        ("330.2", "330 mm", "1' 1\""),
        ("309.5625", "310 mm", "1' 0 3/16\""),
        ("1234567.5", "1\u202f234\u202f568 mm", "4050' 5\""),
    ],
)
def test_shown_half_up(millimetres, metric, imperial):
    length = Decimal(millimetres)
    assert format_length(length, UnitSystem.METRIC) == metric
    assert format_length(length, UnitSystem.IMPERIAL) == imperial


def test_shown_to_coarser_steps():
    """3 3/16 in is nearest to 3 1/4 by quarters; 3 1/8 lies between and goes up."""
    for inches, quarters in (("3.1875", '3 1/4"'), ("3.125", '3 1/4"'), ("3.0625", '3"'), ("11.9", "1'")):
        assert format_length(Decimal(inches) * Decimal("25.4"), UnitSystem.IMPERIAL, sixteenths=4) == quarters


def test_both_systems_side_by_side():
    assert format_both(Decimal("2222.5"), UnitSystem.IMPERIAL) == ("7' 3 1/2\"", "2\u202f223 mm")
    assert format_both(Decimal("2222.5"), UnitSystem.METRIC) == ("2\u202f223 mm", "7' 3 1/2\"")
    assert format_length(Decimal("-0.2"), UnitSystem.METRIC) == "0 mm"


@given(st.lists(st.decimals(0, 10**5, places=6), min_size=1, max_size=20))
def test_a_grid_holds_every_length(lengths):
    grid = to_grid(lengths)
    assert [grid.to_mm(grid.to_int(length)) for length in lengths] == lengths


def test_a_grid_is_as_coarse_as_can_be():
    grid = to_grid([Decimal("3048"), Decimal("2133.6"), Decimal("1.5875")])
    assert grid.to_mm(1) == Decimal("1.5875")
    with pytest.raises(ValueError, match="not on a grid"):
        grid.to_int(Decimal(1))


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("6", 6000),
        ("2.38", 2380),
        ("99.5", 99_500),
        ("100", 100),
        ("4800", 4800),
        ("6000", 6000),
        ("6 000", 6000),
        ("6000 m", 6_000_000),
        ("6000 mm", 6000),
        ("6 mm", 6),
    ],
)
def test_a_bare_number_of_100_or_more_is_millimetres_where_metres_are_asked_for(text, millimetres):
    assert parse_length(text, Unit.METRE) == millimetres
    assert parse_length("6000", Unit.MILLIMETRE) == 6000 and parse_length("100", Unit.FOOT) == 30_480


@pytest.mark.parametrize(
    ("text", "style", "lengths"),
    [
        ("8'; 12'; 16'", POINT, [2438.4, 3657.6, 4876.8]),
        ("8', 12', 16'", POINT, [2438.4, 3657.6, 4876.8]),
        ("7' 3½, 8'", POINT, [2222.5, 2438.4]),
        ("8'\n12'", POINT, [2438.4, 3657.6]),
        ("8';", POINT, [2438.4]),
        ("3,9 m; 4,8 m", COMMA, [3900, 4800]),
        ("3,9 m, 4,8 m", COMMA, [3900, 4800]),
        ("2 400 mm; 3600", COMMA, [2400, 3600]),
        ("", POINT, []),
    ],
)
def test_lists_part_at_semicolons_and_new_lines(text, style, lengths):
    unit = Unit.METRE if style == COMMA else Unit.FOOT
    assert parse_lengths(text, unit, style=style) == [Decimal(str(length)) for length in lengths]


@pytest.mark.parametrize(
    ("text", "style", "words"),
    [
        ("3,9 m, 4,8 m", POINT, "decimals take a point"),
        ("8, 12, 16", POINT, "“8, 12, 16” could be one length or several. Type it like 8; 12; 16, with a unit"),
        ("8,12", COMMA, "“8,12” could be one length or several. Type it like 8; 12, with a unit"),
        ("2440,3660", COMMA, "one length or several"),
        ("8, 12'", POINT, "cannot be read"),
        ("8 ft,12 ft", POINT, "cannot be read"),
        ("2,440 mm; 3 m", POINT, "“2,440” could be 2440 or 2.440"),
    ],
)
def test_a_comma_that_could_part_lengths_or_be_a_decimal_sign_is_refused(text, style, words):
    with pytest.raises(LengthError, match=words.replace(".", r"\.")):
        parse_lengths(text, Unit.FOOT, style=style)


@given(st.text(alphabet="0123456789,;. m", max_size=16))
def test_no_list_has_more_lengths_than_its_semicolons_or_units_part(text):
    try:
        lengths = parse_lengths(text, Unit.METRE, style=COMMA)
    except LengthError:
        return
    assert len(lengths) <= 1 + text.count(";") + text.count("m,")


@pytest.mark.parametrize(
    ("millimetres", "system", "said"),
    [
        (6_000_000, UnitSystem.METRIC, "6000 m is longer than any stick, which is at most 30 m. Did you mean 6000 mm?"),
        (30_000, UnitSystem.METRIC, ""),
        (99_500, UnitSystem.METRIC, "99.5 m is longer than any stick, which is at most 30 m. Did you mean 99.5 mm?"),
        (45_720, UnitSystem.IMPERIAL, "150' is longer than any stick, which is at most 98'. Did you mean 150\"?"),
        (9_000_000, UnitSystem.IMPERIAL, "29527.56' is longer than any stick, which is at most 98'."),
    ],
)
def test_what_no_stick_is_asks_back(millimetres, system, said):
    assert longer_than_any("tube", system, Decimal(millimetres)) == said


def test_lengths_and_bare_numbers_at_their_limits() -> None:
    assert parse_length("10000 m", Unit.METRE) == 10_000_000
    with pytest.raises(LengthError, match="longer than any stick"):
        parse_length("10000.001 m", Unit.METRE)
    assert [parse_length(text, Unit.METRE) for text in ("99.999", "100")] == [Decimal("99999"), Decimal(100)]
    assert parse_length("3 3/4", Unit.INCH) == Decimal("95.25")
    with pytest.raises(LengthError, match="must be less than 1"):
        parse_length("3 4/4", Unit.INCH)
