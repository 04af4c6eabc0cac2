"""Film on the end walls, laid as takes the least of the roll."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import product

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts.end_film import layings
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.work.counting import count_work
from tests.planning.seasons import BY_CODE, TWENTY, feet, house


def least_of_roll(walls: int, across: int, height: int, roll: int) -> Fraction | None:
    """Every way to turn each wall's sheet and to lay them one after another or side by side on the roll."""
    found = []
    for turned in product((False, True), repeat=walls):
        sizes = [(across, height) if turn else (height, across) for turn in turned]
        if all(wide <= roll for wide, _ in sizes):
            found.append(sum(long for _, long in sizes))
        if sum(wide for wide, _ in sizes) <= roll:
            found.append(max(long for _, long in sizes))
    return Fraction(min(found)) if found else None


def test_no_way_to_lay_it_takes_less() -> None:
    tried = 0
    for walls, across, height, roll in product((1, 2), range(1, 13), range(1, 13), range(1, 27)):
        ways = layings(walls=walls, across=Decimal(across), height=Decimal(height), roll=Decimal(roll))
        least = least_of_roll(walls, across, height, roll)
        assert (Fraction(ways[0].of_roll) if ways else None) == least, (walls, across, height, roll)
        tried += least is not None
    assert tried > 5_000


def test_on_equal_length_whole_sheets_come_first_and_then_upright() -> None:
    def best(**more: int) -> tuple[bool, bool]:
        way = layings(**{name: Decimal(value) if name != "walls" else value for name, value in more.items()})[0]
        return way.half, way.upright

    # 2 x 5 whole sheets across, or 10 split: equal, and nothing need be split.
    assert best(walls=2, across=10, height=5, roll=12) == (False, False)
    assert best(walls=2, across=5, height=5, roll=9) == (False, True)
    assert best(walls=1, across=5, height=5, roll=50) == (False, True)
    assert best(walls=2, across=5, height=5, roll=10) == (True, True)


#: Film 40 ft wide on a house 20 ft wide, without doors.
WALLED = replace(TWENTY, front_door_count=0, back_door_count=0)
ROLL = BY_CODE | {TWENTY.film_material: replace(BY_CODE[TWENTY.film_material], width=feet(40))}


def end_film(units: UnitSystem = UnitSystem.IMPERIAL, **changes: object) -> TakeoffRow:
    spec = replace(WALLED, **changes)
    assert check_spec(spec, ROLL, units) == []
    (row,) = [row for row in take_off(house("h", spec), ROLL, units) if row.purpose == "film on the end walls"]
    return row


def test_one_sheet_split_lengthwise_covers_both_ends_of_a_house_of_20_ft() -> None:
    """20 + 2 x 2 = 24 ft across; half the roll is 20 ft, and the ridge is lower: 24 ft of roll, not 48."""
    row = end_film(end_film_allowance=feet(2))
    assert (row.length, row.quantity) == (feet(24), 1)
    assert "1 sheet split lengthwise for 2 framed end walls, half the roll's width upright" in row.working
    assert "the roll's width upright would take 48'" in row.working
    assert "20' + 2 x 2' = 24' across" in row.working


def test_a_single_wall_takes_the_shorter_side_of_it() -> None:
    row = end_film(end_walls=1, end_film_allowance=feet(2))
    # The roll of 40 ft lies across the 24 ft, so the sheet is as long as the ridge is high, and 2 ft more.
    assert row.quantity == 1
    assert row.length is not None and feet(8) < row.length < feet(16)


def test_without_a_number_of_its_own_it_has_what_the_sides_have() -> None:
    own, sides = end_film(end_walls=1, end_film_allowance=feet(1)), end_film(end_walls=1)
    assert own.length is not None and sides.length is not None
    # 1 ft above the ridge, and none.
    assert own.length - sides.length == feet(1)
    assert "20' + 2 x 2' = 24' across" in sides.working


@pytest.mark.parametrize("units", list(UnitSystem))
def test_film_that_covers_an_end_wall_in_no_way_is_refused_with_both_sizes(units: UnitSystem) -> None:
    spec = replace(WALLED, end_film_allowance=feet(35))
    (problem,) = check_spec(spec, ROLL, units)
    assert problem.field == "film_material"
    assert ("90'" if units is UnitSystem.IMPERIAL else "27\u202f432 mm") in problem.message


def test_the_work_on_both_walls_counts_though_one_sheet_is_bought() -> None:
    spec = replace(WALLED, end_film_allowance=feet(2))
    bare = replace(spec, end_walls=0, front_door_count=0)

    def film_work(spec: HouseSpec) -> int:
        counted = count_work(house("h", spec), ROLL, UnitSystem.IMPERIAL)
        return next(row.count for row in counted if row.kind is WorkKind.FILM)

    assert film_work(spec) - film_work(bare) == 2 * 24
