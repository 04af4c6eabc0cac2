"""Fittings against counts made by hand; how many go to each place is common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts.fittings import FITTINGS
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.work.counting import USES, count_work
from tests.planning.seasons import BY_CODE, LOW, TWELVE, TWENTY, feet, house, inches

IMPERIAL = UnitSystem.IMPERIAL
UNITS = list(UnitSystem)
COUNTED = {fitting.field: fitting.purpose for fitting in FITTINGS}
STOCKED = BY_CODE | {
    "fitting": Material("fitting", "fitting", Kind.HARDWARE),
    "wire": Material("wire", "wire", Kind.CHANNEL),
    "film-12": Material("film-12", "film 12 ft wide", Kind.FILM, feet(12)),
    "film-6": Material("film-6", "film 6 ft wide", Kind.FILM, feet(6)),
}
ALL = dict.fromkeys(COUNTED, "fitting")

#: 20 x 96 ft, hoops every 4 ft, a ridge and two side purlins, 4 braces, a door in each end, two layers of film.
HOUSE = replace(
    TWENTY,
    side_purlins=2,
    front_door_count=1,
    channel_runs=2,
    wire_material="wire",
    door_skin_material="film-12",
    **ALL,
)


def rows(spec: HouseSpec, units: UnitSystem = IMPERIAL) -> list[TakeoffRow]:
    return list(take_off(house("h", spec), STOCKED, units))


def count(spec: HouseSpec, purpose: str, units: UnitSystem = IMPERIAL) -> int:
    return sum(row.quantity for row in rows(spec, units) if row.purpose == purpose)


#: By hand for the house above.
EXPECTED = {
    # 96 / 4 + 1 = 25 hoops; 3 purlins cross each.
    "purlin connectors": 75,
    # 2 posts a hoop.
    "hoop-to-post fasteners": 50,
    # 2 ends of 4 braces.
    "brace clamps": 8,
    # 2 doors x 3.
    "door hinges": 6,
    "door stops": 2,
    "inflation fans": 1,
    "inflation hoses": 1,
    # In hoops 25 x 2; each purlin of 1152 in takes (1152 - 6) / (120 - 6), up: 11 sticks and 10 joints: 50 + 30 = 80.
    "joint tape": 2,
    "anchor ties": 16,
}


@pytest.mark.parametrize("units", UNITS)
@pytest.mark.parametrize("purpose", EXPECTED)
def test_the_house_of_the_builder(purpose: str, units: UnitSystem) -> None:
    assert check_spec(HOUSE, STOCKED, units) == []
    (row,) = [row for row in rows(HOUSE, units) if row.purpose == purpose]
    assert (row.quantity, row.unit, row.length, row.whole) == (EXPECTED[purpose], "each", None, True)
    assert str(EXPECTED[purpose]) in row.working


@pytest.mark.parametrize("units", UNITS)
def test_channel_screws_stand_at_both_ends_and_no_further_apart_than_the_spacing(units: UnitSystem) -> None:
    """2 runs of 1152 in at 24 in: 48 spaces, 49 screws; 2 end hoops of 3 x 120 - 2 x 6 = 348 in: 15 spaces, 16."""
    assert count(HOUSE, "channel screws", units) == 2 * 49 + 2 * 16 == 130
    # 1152 / 25 is 46.08: 47 spaces; 348 / 25 is 13.92: 14.
    assert count(replace(HOUSE, channel_screw_spacing=inches(25)), "channel screws", units) == 2 * 48 + 2 * 15
    assert count(replace(HOUSE, channel_on_ends=False), "channel screws", units) == 98
    assert count(replace(HOUSE, channel_material="", channel_runs=0, channel_on_ends=False), "channel screws") == 0


def test_wire_is_as_long_as_the_channel() -> None:
    by_purpose = {row.purpose: row for row in rows(HOUSE)}
    for where in ("along the house", "over the end hoops"):
        channel, wire = by_purpose[f"channel {where}"], by_purpose[f"fixing wire {where}"]
        assert (wire.material, wire.length, wire.quantity) == ("wire", channel.length, channel.quantity)
    assert not [row for row in rows(replace(HOUSE, wire_material="")) if "wire" in row.purpose]


def test_screws_at_each_joint_of_the_end_walls() -> None:
    """12 ft, studs every 24 in from the middle, 1 door of 48 in in front: studs at +-48, one short over the door.

    Front: sills 2 x 2 ends = 4, studs 2 x 2, short stud 2, header 2, tops of 2 door posts: 14. Door: 3 rails x 2 = 6.
    Back, without a door: sill 2, studs at 0, +-24, +-48: 10: 12. In all 32, with 2 screws 64.
    """
    spec = replace(TWELVE, end_screw_material="fitting")
    assert count(spec, "end wall screws") == 64
    assert count(replace(spec, end_screws_per_joint=3), "end wall screws") == 96
    # One wall less, the back: 20 joints.
    assert count(replace(spec, end_walls=1), "end wall screws") == 40
    # No door in front: both like the back.
    assert count(replace(spec, front_door_count=0), "end wall screws") == 48


def test_a_long_sill_has_a_splice() -> None:
    """20 ft without a door: 2 pieces of sill, so 3 joints. Studs every 8 ft: 0, +-8: 6 joints. 9 x 1."""
    spec = replace(
        TWENTY,
        end_walls=1,
        front_door_count=0,
        back_door_count=0,
        end_stud_spacing=feet(8),
        end_screw_material="fitting",
        end_screws_per_joint=1,
    )
    assert count(spec, "end wall screws") == 9


def skins(**changes: Any) -> list[tuple[Decimal | None, int]]:
    return [(row.length, row.quantity) for row in rows(replace(HOUSE, **changes)) if row.purpose == "door skins"]


def test_a_skin_of_film_takes_the_least_off_the_roll() -> None:
    """Front 42 x 80 in, back 48 x 80; less 1/2 in of clearance, and 2 in of fold at each edge: 45.5 and 51.5 x 83.5.

    Over 144 in one stands upright beside nothing, or 3 (2) lie across: 1 x 45.5 against 1 x 83.5 off the roll.
    """
    assert skins() == [(inches("45.5"), 1), (inches("51.5"), 1)]
    # 3 doors of one size, 51.5 wide: upright 1 a strip, 3 x 51.5 = 154.5; lying 2 a strip, 2 x 83.5 = 167.
    alike = {"front_door_width": feet(4), "front_door_count": 2}
    assert skins(**alike) == [(inches("51.5"), 3)]
    # On 6 ft none stands upright; one lies across it.
    assert skins(**alike, door_skin_material="film-6") == [(inches("83.5"), 3)]
    # 4 doors: upright 4 x 51.5 = 206, lying 2 x 83.5 = 167.
    assert skins(**alike | {"back_door_count": 2}) == [(inches("83.5"), 2)]
    assert skins(door_skin_material="fitting") == [(None, 2)]
    assert skins(door_skin_material="") == skins(front_door_count=0, back_door_count=0) == []


def test_film_too_narrow_for_a_skin_is_refused() -> None:
    narrow = {"film-6": replace(STOCKED["film-6"], width=inches("51.4"))}
    (problem,) = check_spec(replace(HOUSE, door_skin_material="film-6"), STOCKED | narrow, IMPERIAL)
    assert problem.field == "door_skin_material"
    assert all(size in problem.message for size in ("4' 3 1/2\"", "6' 11 1/2\""))
    unknown = {"film-6": replace(STOCKED["film-6"], width=None)}
    (problem,) = check_spec(replace(HOUSE, door_skin_material="film-6"), STOCKED | unknown, IMPERIAL)
    assert "no width" in problem.message


NONE_OF = {
    "purlin connectors": {"purlin_material": "", "ridge_purlins": 0, "side_purlins": 0},
    "hoop-to-post fasteners": {"post_material": "", "front_door_height": feet(6), "back_door_height": feet(6)},
    "brace clamps": {"brace_count": 0},
    "end wall screws": {"end_walls": 0, "front_door_count": 0, "back_door_count": 0},
    "door hinges": {"front_door_count": 0, "back_door_count": 0},
    "door stops": {"front_door_count": 0, "back_door_count": 0},
    "channel screws": {"channel_runs": 0, "channel_on_ends": False},
    "inflation fans": {"film_layers": 1},
    "inflation hoses": {"film_layers": 1},
    "anchor ties": {"anchor_count": 0},
}


@pytest.mark.parametrize("purpose", NONE_OF)
def test_what_a_house_has_none_of_takes_no_fitting(purpose: str) -> None:
    assert count(HOUSE, purpose)
    assert count(replace(HOUSE, **NONE_OF[purpose]), purpose) == 0


def test_a_house_without_joints_takes_no_tape() -> None:
    assert count(replace(LOW, tape_material="fitting"), "joint tape") == 0


def test_more_at_each_place() -> None:
    assert count(replace(HOUSE, fasteners_per_post=2), "hoop-to-post fasteners") == 100
    assert count(replace(HOUSE, hinges_per_door=2), "door hinges") == 4
    assert [count(replace(HOUSE, joints_per_roll=n), "joint tape") for n in (1, 79, 80, 81)] == [80, 2, 1, 1]


@pytest.mark.parametrize("field", COUNTED)
def test_nothing_is_counted_that_is_not_chosen(field: str) -> None:
    assert count(replace(HOUSE, **{field: ""}), COUNTED[field]) == 0


@pytest.mark.parametrize(
    ("field", "least", "most"),
    [
        ("fasteners_per_post", 1, 8),
        ("end_screws_per_joint", 1, 8),
        ("hinges_per_door", 1, 8),
        ("joints_per_roll", 1, 1000),
    ],
)
@pytest.mark.parametrize("units", UNITS)
def test_counts_that_cannot_be(field: str, least: int, most: int, units: UnitSystem) -> None:
    for wrong in (-1, least - 1, most + 1, 10**12):
        (problem,) = check_spec(replace(HOUSE, **{field: wrong}), STOCKED, units)
        assert problem.field == field
        assert str(wrong) in problem.message and f"Type {least} to {most}." in problem.message
    for right in (least, most):
        assert check_spec(replace(HOUSE, **{field: right}), STOCKED, units) == []


@pytest.mark.parametrize(
    ("wrong", "words"),
    [(Decimal(0), "is 0"), (inches(-1), "0 or more"), (Decimal("NaN"), "not a length"), (inches("0.9"), "at least 1")],
)
def test_a_spacing_that_cannot_be(wrong: Decimal, words: str) -> None:
    (problem,) = check_spec(replace(HOUSE, channel_screw_spacing=wrong), STOCKED, IMPERIAL)
    assert problem.field == "channel_screw_spacing"
    assert words in problem.message


@pytest.mark.parametrize("field", [*COUNTED, "wire_material", "door_skin_material"])
def test_a_fitting_of_another_kind_or_of_no_list_is_refused(field: str) -> None:
    for code in ("rail-1-3-8", "no-such"):
        (problem,) = check_spec(replace(HOUSE, **{field: code}), STOCKED, IMPERIAL)
        assert problem.field == field


def test_what_holds_the_house_together_and_is_not_bought_is_told() -> None:
    assert [r for r in spec_remarks(HOUSE, STOCKED, IMPERIAL) if r.field in ALL] == []
    without = replace(HOUSE, purlin_connector_material="", hinge_material="", fan_material="", tape_material="")
    (told,) = [r for r in spec_remarks(without, STOCKED, IMPERIAL) if r.field in ALL]
    assert told.field == "purlin_connector_material"
    assert "75 purlin connectors and 6 door hinges" in told.message
    # Nothing is counted at no spacing at all.
    bare = replace(HOUSE, channel_screw_material="", channel_screw_spacing=Decimal(0))
    (told,) = [r for r in spec_remarks(bare, STOCKED, IMPERIAL) if r.field in ALL]
    assert "130 channel screws" in told.message


def test_a_house_that_says_nothing_of_fittings_is_what_it_was() -> None:
    """Such as one that was stored before there were any."""
    known = {*EXPECTED, "channel screws", "end wall screws", "door skins"}
    for spec in (LOW, TWELVE, TWENTY):
        assert not {row.purpose for row in rows(spec)} & known


def test_fittings_are_waited_for_and_no_work_of_their_own() -> None:
    used = frozenset().union(*USES.values())
    assert {row.purpose for row in rows(HOUSE)} <= used
    assert "purlin connectors" in USES[WorkKind.RIDGE]
    assert "hoop-to-post fasteners" in USES[WorkKind.SET]
    bare = replace(HOUSE, wire_material="", door_skin_material="", **dict.fromkeys(COUNTED, ""))
    assert count_work(house("h", HOUSE), STOCKED, IMPERIAL) == count_work(house("h", bare), STOCKED, IMPERIAL)
