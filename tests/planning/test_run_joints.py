"""Screws and tape follow the joints of the sticks that a plan takes for purlins."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.spec import Joint
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.inputs import InHouse, Lot
from farmbuild.planning.netting.joints import SLEEVES, MoreJoints
from farmbuild.planning.results import TakeoffRow
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import TWELVE, feet, house, season
from tests.size import examples

IMPERIAL = UnitSystem.IMPERIAL
#: 13 hoops of two sticks; a ridge of 48 ft that is typed as sticks of 21 ft, three of them.
SPEC = replace(TWELVE, side_purlins=0, purlin_stick_length=feet(21), tape_material="bolt", joints_per_roll=1)


def counted(**more):
    plan = plan_season(season(house("A", SPEC), **more))
    rows = {row.purpose: row.quantity for row in plan.takeoff if row.purpose.startswith("joint")}
    bought = {line.material: line.needed for order in plan.orders for line in order.lines}
    return rows, bought, plan


def test_screws_and_tape_are_of_the_joints_that_are_made() -> None:
    """Rail is sold in 10 ft: five sticks have four joints, where three of 21 ft have two. 13 + 4 of 2 screws each."""
    rows, bought, plan = counted(lots=())
    assert [(row.length, row.quantity) for row in plan.takeoff if row.purpose == "ridge purlins"] == [(feet(10), 5)]
    assert rows == {"joint screws": 34, "joint tape": 17}
    assert bought["screw"] == 34
    assert "2 joints more: +4" in next(row.working for row in plan.takeoff if row.purpose == "joint screws")


def test_what_the_house_has_of_them_counts() -> None:
    rows, bought, _ = counted(lots=(), in_house=(InHouse("A", "screw", None, 5, "joint screws"),))
    assert rows["joint screws"] == 34
    assert bought["screw"] == 29


def test_fewer_joints_take_fewer() -> None:
    """One stick of 50 ft in the yard makes the ridge: no joint is left but those of the hoops."""
    lots = (Lot("L1", "rail-1-3-8", feet(50), 1, Decimal(1), "Rack"),)
    rows, _, plan = counted(lots=lots)
    assert [(row.length, row.quantity) for row in plan.takeoff if row.purpose == "ridge purlins"] == [(feet(50), 1)]
    assert rows == {"joint screws": 26, "joint tape": 13}


def test_sticks_that_the_house_has_make_joints_too() -> None:
    """Five of 10 ft lie there for the ridge: what they take beyond two joints is needed, and what is there counts."""
    ridge = InHouse("A", "rail-1-3-8", feet(10), 5, "ridge purlins")
    rows, bought, plan = counted(lots=(), in_house=(ridge,))
    assert rows == {"joint screws": 34, "joint tape": 17}
    assert bought["screw"] == 34
    rows, bought, plan = counted(lots=(), in_house=(ridge, InHouse("A", "screw", None, 34, "joint screws")))
    assert rows["joint screws"] == 34 and "screw" not in bought
    assert not plan.too_much


@examples(30)
@given(st.integers(-9, 9), st.integers(-9, 9), st.integers(0, 40), st.sampled_from(["", "sleeve"]))
def test_screws_sleeves_and_tape_are_counted_from_the_joints(taped, of_curtains, there, joint) -> None:
    """Screws as the spec has them, of sleeves their own; one sleeve a joint, and none on curtains."""
    spec = SPEC if not joint else replace(SPEC, purlin_joint=Joint.OUTER, purlin_sleeve_screws=4)
    given_ = season(house("A", spec))
    materials = {material.code: material for material in given_.materials}
    more = MoreJoints()
    more.count("curtain pipes", of_curtains)
    more.count("ridge purlins", taped)
    assert (more.taped, more.of_curtains) == (taped, of_curtains)
    row = TakeoffRow("A", "", "screw", None, there, "pieces", False, "as typed")
    screws = (4 if joint else spec.screws_per_joint) * taped + spec.screws_per_joint * of_curtains
    for purpose, joints, change in (
        ("joint screws", taped + of_curtains, screws),
        (SLEEVES, taped, taped),
        ("ridge purlins", 0, 0),
    ):
        own = replace(row, purpose=purpose)
        found = more.follow(given_.houses[0], own, materials, IMPERIAL)
        assert found.quantity == max(0, there + (change if joints else 0)), purpose
        if not joints:
            assert found == own
        else:
            many = f"{abs(joints)} joint{'s' if abs(joints) != 1 else ''} {'more' if joints > 0 else 'fewer'}"
            assert many in found.working


def test_a_roll_of_tape_goes_on_where_the_joints_of_the_house_end() -> None:
    """15 joints of the spec and two of the house fill a roll of 17: one more begins another."""
    asked = season(house("A", replace(SPEC, joints_per_roll=17)))
    materials = {material.code: material for material in asked.materials}
    (tape,) = [row for row in take_off(asked.houses[0], materials, IMPERIAL) if row.purpose == "joint tape"]
    assert tape.quantity == 1
    for before, rolls in ((0, 1), (2, 2)):
        followed = MoreJoints(taped=1).follow(asked.houses[0], tape, materials, IMPERIAL, before=before)
        assert followed.quantity == rolls, before
