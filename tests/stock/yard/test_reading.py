"""Lines as people write them, in both unit systems: what is understood, what is asked, what is refused."""

from __future__ import annotations

import pytest

from farmbuild.catalogue.services import shipped_materials
from farmbuild.measure import UnitSystem, use_style
from farmbuild.measure.numbers import THIN_SPACE, NumberStyle
from farmbuild.stock.yard.matching import Named
from farmbuild.stock.yard.reading import list_of, read_lines
from tests.factories import FOOT, INCH

BY_LENGTH = ("tube", "lumber", "film", "channel")


def catalogue(units: str) -> list[Named]:
    names = ("name", "code", "kind", "width", "thickness")
    return [
        Named(number, *(row[name] for name in names), by_length=row["kind"] in BY_LENGTH, used=False)
        for number, row in enumerate(shipped_materials(units))
    ]


CATALOGUE = {units: catalogue(units) for units in UnitSystem}


def read(text: str, units: str = "imperial"):
    return read_lines(text, CATALOGUE[UnitSystem(units)], UnitSystem(units))


def piles(line) -> list[tuple[int, float | None]]:
    return [(pile.quantity, None if pile.length is None else float(pile.length)) for pile in line.piles]


ALL_1_3_8 = 7


@pytest.mark.parametrize(
    ("text", "fits", "quantity", "length"),
    [
        ("31 sticks of 1-3/8", ALL_1_3_8, 31, None),
        ("12 1-3/8 10'6\"", ALL_1_3_8, 12, INCH * 126),
        ("12 1 3/8 rail 10' 6\"", ALL_1_3_8, 12, INCH * 126),
        ("31x 1-3/8 rail 0.047 10'", "rail-1-3-8-light", 31, FOOT * 10),
        ("- 31 of rail-1-3-8 10 ft", "rail-1-3-8", 31, FOOT * 10),
        ("6 conduit 3/4", "emt-3-4", 6, None),
        ("6 conduit 3/4 10", "emt-3-4", 6, FOOT * 10),
        ("6 EMT 3/4 in 10′", "emt-3-4", 6, FOOT * 10),
        ("5 pipe 1-1/4 schedule 40 21'", "pipe-1-1-4", 5, FOOT * 21),
        ("14 2x6 12'", "lumber-2x6", 14, FOOT * 12),
        ("14 boards 2 x 6 12 ft", "lumber-2x6", 14, FOOT * 12),
        # Its width is no length.
        ("3 film 24 ft", "film-6mil-24ft", 3, None),
        ("3 rolls of film 24 ft 100 ft", "film-6mil-24ft", 3, FOOT * 100),
        ("500 screws", 4, 500, None),
        ("1,200 #12 screws", "screw-12x3-4", 1200, None),
        ("40 anchors 30 in", "anchor-30", 40, None),
        ("9 frogs", 0, 9, None),
    ],
)
def test_a_line_in_feet_and_inches(text, fits, quantity, length):
    [line] = read(text)
    assert line.problem == ""
    codes = [row.code for row in line.fit.materials]
    assert (len(codes) if isinstance(fits, int) else codes) == (fits if isinstance(fits, int) else [fits])
    assert piles(line) == [(quantity, None if length is None else float(length))]


@pytest.mark.parametrize(
    ("text", "fits", "quantity", "length"),
    [
        ("20 x 38 mm 6 m", ["tube-38x1-5", "tube-38x2"], 20, 6000),
        ("20 × 38 x 2 6 m", ["tube-38x2"], 20, 6000),
        ("20 tube 38x2 6000", ["tube-38x2"], 20, 6000),
        ("14 tube 38x2 6", ["tube-38x2"], 14, 6000),
        ("12 25 x 150 board 4 m", ["sawn-25x150"], 12, 4000),
        ("2 film 8 m 50 m", ["film-200-8m"], 2, 50_000),
        ("1 200 screw 5 x 60", ["screw-5x60"], 1200, None),
        ("6 dn 25 6 m", ["pipe-dn25"], 6, 6000),
    ],
)
def test_a_line_in_metres(text, fits, quantity, length):
    [line] = read(text, "metric")
    assert line.problem == ""
    assert [row.code for row in line.fit.materials] == fits
    assert piles(line) == [(quantity, length)]


def test_a_decimal_comma_is_read_as_one():
    with use_style(NumberStyle(",", THIN_SPACE)):
        [line] = read("offcuts 38x2: 1,2 m; 3x 0,95 m, 2 m", "metric")
        assert piles(line) == [(1, 1200), (3, 950), (1, 2000)]
        [line] = read("1.200 screw 5x60", "metric")
        assert piles(line) == [(1200, None)]
    [line] = read("offcuts 38x2: 1,2 m", "metric")
    assert "decimals take a point here" in line.problem


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2x6 12'", "How many are there?"),
        ("sticks of 1-3/8", "How many are there?"),
        ("12", "How many are there?"),
        ("12 sticks", "Of which material?"),
        ("2 boxes of screws", "How many pieces are in the boxes?"),
        ("0 1-3/8 10'", "from 1 to"),
        ("1.5 1-3/8 10'", "whole number"),
        ("99999999999 screws", "from 1 to"),
        ("offcuts 1-3/8: 4' frog", "“frog” cannot be read as a length"),
        ("offcuts 1-3/8: 0", "longer than zero"),
        ("offcuts 1-3/8: 3x", "stands before no length"),
    ],
)
def test_what_cannot_be_read_says_why_and_what_to_type(text, says):
    [line] = read(text)
    assert says in line.problem
    assert line.text == text


def test_a_pair_that_is_a_size_is_no_count():
    [line] = read("25 x 150 board 4 m", "metric")
    assert line.problem.startswith("“25 x 150” could be a size, or 25 pieces.")


def test_offcuts_by_their_lengths_are_piles_of_equal_ones():
    [line] = read("offcuts 1-3/8: 4'2\" 3'11\" 3x 5' 5'; 2 x 4' 2\"")
    assert line.offcut
    assert line.what == "1-3/8"
    assert piles(line) == [(3, float(INCH * 50)), (1, float(INCH * 47)), (4, float(FOOT * 5))]


def test_a_list_goes_on_below_its_heading_until_an_empty_line():
    first, second = read("offcuts 1-3/8:\n4'2\"\n3 x 5'\n\n6 conduit 3/4")
    assert piles(first) == [(1, float(INCH * 50)), (3, float(FOOT * 5))]
    assert (second.number, piles(second)) == (5, [(6, None)])


def test_a_part_roll_is_an_offcut():
    [line] = read("part roll of film 24 ft 60'")
    assert line.offcut
    assert piles(line) == [(1, float(FOOT * 60))]


def test_a_word_that_no_material_has_leaves_the_choice():
    [line] = read("8 galvanised rail 1-5/8 21'")
    assert line.fit.strange == ("galvanised",)
    assert [row.code for row in line.fit.materials] == ["rail-1-5-8", "rail-1-5-8-083"]


def test_pasted_lengths_are_read_by_themselves():
    rail = CATALOGUE[UnitSystem.IMPERIAL][0]
    line = list_of(rail, "4'; 3x5'\n6'", UnitSystem.IMPERIAL, 1)
    assert piles(line) == [(1, float(FOOT * 4)), (3, float(FOOT * 5)), (1, float(FOOT * 6))]
    assert "There are no lengths here" in list_of(rail, " ; ", UnitSystem.IMPERIAL, 1).problem
    assert "more than 300 lengths" in list_of(rail, "4';" * 301, UnitSystem.IMPERIAL, 1).problem
