"""Rows of a house's own against sums by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.own_rows import MAX_ROWS, OwnRow, Per
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.season.changes import changes
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.work.counting import USES
from tests.planning.seasons import BY_CODE, MATERIALS, TWELVE, feet, house, inches, season

IMPERIAL, METRIC = UnitSystem.IMPERIAL, UnitSystem.METRIC
STRAP = OwnRow("screw", Decimal(2), Per.HOOP, note="over the tape")


def with_rows(*rows: OwnRow, spec: HouseSpec = TWELVE) -> HouseSpec:
    return replace(spec, own_rows=rows)


def own(*rows: OwnRow, spec: HouseSpec = TWELVE, units: UnitSystem = IMPERIAL) -> list[TakeoffRow]:
    built = with_rows(*rows, spec=spec)
    assert check_spec(built, BY_CODE, units) == []
    return [row for row in take_off(house("h", built), BY_CODE, units) if row.purpose.startswith("own rows")]


@pytest.mark.parametrize(
    ("per", "quantity", "total"),
    [
        # 12 x 48 ft: 12 bays of 4 ft, 13 hoops, 26 posts, 3 purlins x 13 = 39 crossings, 1 door in the front end.
        (Per.HOUSE, "3", 3),
        (Per.HOOP, "2", 26),
        (Per.POST, "1", 26),
        (Per.BAY, "0.5", 6),
        (Per.CROSSING, "1", 39),
        (Per.DOOR, "4", 4),
        (Per.END, "1.5", 3),
        (Per.FOOT, "0.25", 12),
        # 48 ft are 14.6304 m.
        (Per.METRE, "1", 15),
        (Per.METRE, "0.5", 8),
        # 13 x 0.3 = 3.9, and 13 x 0.001 = 0.013: up to the next whole one.
        (Per.HOOP, "0.3", 4),
        (Per.HOOP, "0.001", 1),
    ],
)
@pytest.mark.parametrize("units", list(UnitSystem))
def test_a_quantity_for_each(per: Per, quantity: str, total: int, units: UnitSystem) -> None:
    (row,) = own(OwnRow("screw", Decimal(quantity), per), units=units)
    assert (row.material, row.length, row.quantity, row.whole) == ("screw", None, total, True)
    assert row.working.endswith(f"= {total}")


def test_the_working_says_the_note_the_sum_and_that_it_was_rounded_up() -> None:
    (row,) = own(STRAP)
    assert row.working == "over the tape: 2 for each hoop x 13 hoops = 26"
    (row,) = own(OwnRow("screw", Decimal("0.3"), Per.HOOP))
    assert row.working == "0.3 for each hoop x 13 hoops = 3.9, rounded up = 4"
    (row,) = own(OwnRow("screw", Decimal("0.001"), Per.METRE))
    assert row.working == "0.001 for each metre of house length x 14.63 metres = 0.015, rounded up = 1"
    (row,) = own(OwnRow("screw", Decimal("1.5"), Per.END))
    assert row.working == "1.5 for each end of the house x 2 ends of the house = 3"
    (row,) = own(OwnRow("screw", Decimal(7)))
    assert row.working == "7 for each house = 7"


def test_what_is_bought_by_length_goes_to_the_saw_in_pieces_of_exactly_that_length() -> None:
    (row,) = own(OwnRow("lumber-2x4", Decimal(2), Per.BAY, Decimal("1500.000001")), units=METRIC)
    assert (row.length, row.quantity, row.whole, row.unit) == (Decimal("1500.000001"), 24, False, "pieces")


def test_a_row_goes_by_the_work_that_it_is_used_in_and_else_no_work_waits_for_it() -> None:
    for kind in WorkKind:
        (row,) = own(replace(STRAP, step=kind.value))
        assert [one for one in WorkKind if row.purpose in USES[one]] == [kind]
    (row,) = own(STRAP)
    assert not any(row.purpose in used for used in USES.values())


def test_rows_come_last_and_in_the_order_in_which_they_were_typed() -> None:
    rows = take_off(house("h", with_rows(STRAP, OwnRow("bolt", Decimal(1)))), BY_CODE, IMPERIAL)
    assert [(row.material, row.quantity) for row in rows[-2:]] == [("screw", 26), ("bolt", 1)]


@pytest.mark.parametrize(
    ("row", "part", "words"),
    [
        (OwnRow("screw", Decimal(0)), "quantity", "above 0"),
        (OwnRow("screw", Decimal(-1)), "quantity", "above 0"),
        (OwnRow("screw", Decimal("NaN")), "quantity", "above 0"),
        (OwnRow("screw", Decimal("100000.001")), "quantity", "at most 100,000"),
        (OwnRow("screw", Decimal("0.0001")), "quantity", "3 decimals"),
        (OwnRow("", Decimal(1)), "material", "Choose the material"),
        (OwnRow("tape", Decimal(1)), "material", "'tape'"),
        (OwnRow("lumber-2x4", Decimal(1)), "length", "2x4 is bought by length"),
        (OwnRow("lumber-2x4", Decimal(1), length=Decimal(-1)), "length", "above 0"),
        (OwnRow("lumber-2x4", Decimal(1), length=Decimal(10_000_001)), "length", "at most"),
        (OwnRow("screw", Decimal(1), length=inches(6)), "length", "is counted and has no length"),
        (OwnRow("screw", Decimal(1), step="paint"), "step", "'paint'"),
        (OwnRow("screw", Decimal(1), note="x" * 201), "note", "200 characters"),
        (OwnRow("screw", Decimal(10_000), Per.HOOP), "quantity", "13 hoops = 130,000, and 100,000 is the most"),
    ],
)
def test_what_is_wrong_is_said_of_its_row_and_its_field(row: OwnRow, part: str, words: str) -> None:
    for units in UnitSystem:
        (problem,) = check_spec(with_rows(STRAP, row), BY_CODE, units)
        assert (problem.field, problem.part, problem.row) == ("own_rows", part, 1)
        assert words in problem.message


def test_a_house_has_so_many_rows_at_most() -> None:
    assert check_spec(with_rows(*[STRAP] * MAX_ROWS), BY_CODE, IMPERIAL) == []
    (problem,) = check_spec(with_rows(*[STRAP] * (MAX_ROWS + 1)), BY_CODE, IMPERIAL)
    assert "50 rows of its own at most" in problem.message


def test_a_row_for_each_of_what_the_house_has_not_is_told_and_takes_nothing() -> None:
    bare = replace(TWELVE, front_door_count=0)
    hinges = OwnRow("bolt", Decimal(2), Per.DOOR)
    assert own(hinges, spec=bare) == []
    told = [row for row in spec_remarks(with_rows(hinges, spec=bare), BY_CODE, IMPERIAL) if row.field == "own_rows"]
    assert [row.message for row in told] == ["carriage bolt is for each door, and this house has none. It takes none."]
    assert not [row for row in spec_remarks(with_rows(hinges), BY_CODE, IMPERIAL) if row.field == "own_rows"]


def test_a_piece_longer_than_anything_that_is_sold_is_what_the_plan_could_not_find() -> None:
    long = OwnRow("lumber-1x6", Decimal(1), Per.END, feet(90))
    plan = plan_season(season(house("h", with_rows(long)), materials=MATERIALS))
    (unmet,) = [row for row in plan.unmet if row.purpose == "own rows"]
    assert (unmet.material, unmet.length, unmet.quantity) == ("lumber-1x6", feet(90), 2)


def test_what_changed_is_said_in_words() -> None:
    before = season(house("h", TWELVE))
    after = season(house("h", with_rows(STRAP, OwnRow("lumber-2x4", Decimal("0.5"), Per.BAY, feet(3), "film"))))
    (told,) = changes(before, after)
    assert (
        "own rows was nothing, is 2 screw for each hoop, over the tape; 0.5 lumber-2x4 for each bay, 3', film" in told
    )
