"""Marks and pulls against the trade's own figures."""

import math
from decimal import Decimal

import pytest

from farmbuild.mechanics import BendRecipe, GeometryError

INCH = Decimal("25.4")


def twelve_foot(**changes) -> BendRecipe:
    sizes = {
        "stick_length": INCH * 120,
        "sticks": 2,
        "insertion": INCH * 4,
        "radius": INCH * 76,
        "first_mark": INCH * 9,
        "pitch": INCH * 18,
        "stop_gap": INCH,
    }
    return BendRecipe(**(sizes | changes))


def test_marks_of_the_twelve_foot_hoop():
    """9, 27, 45, 63, 81, 99 and 117 in on a 10 ft stick (common practice, no source)."""
    assert [mark / INCH for mark in twelve_foot().marks] == [9, 27, 45, 63, 81, 99, 117]
    assert twelve_foot().pulls == 7


def test_pulls_turn_by_pitch_over_radius():
    recipe = twelve_foot()
    assert recipe.degrees_a_pull == pytest.approx(math.degrees(18 / 76))
    assert recipe.developed == INCH * 236
    assert recipe.marks_on_hoop[7] == INCH * (116 + 9)


def test_marks_stand_inside_the_stick():
    """12, 30 ... 102 in; one at 120 in would be at the very end."""
    assert [mark / INCH for mark in twelve_foot(first_mark=INCH * 12).marks] == [12, 30, 48, 66, 84, 102]
    assert [mark / INCH for mark in twelve_foot(first_mark=Decimal(0), pitch=INCH * 60, stop_gap=INCH).marks] == [0, 60]
    assert twelve_foot(first_mark=INCH * 12 - Decimal("0.000001")).pulls == 7


def test_as_many_marks_as_make_sense():
    """500 marks of 1/4 in on 125 in."""
    many = {"stick_length": INCH * 125, "first_mark": Decimal(0), "stop_gap": Decimal(0)}
    assert twelve_foot(**many, pitch=INCH / 4).pulls == 500
    with pytest.raises(GeometryError, match="more than 500"):
        twelve_foot(**many, pitch=INCH / 4 - Decimal("0.000001"))


def test_a_pull_stops_short_of_its_pitch_at_most():
    assert twelve_foot(stop_gap=Decimal(0)).pulls == twelve_foot(stop_gap=INCH * 18 - Decimal("0.000001")).pulls == 7


def test_joints_stand_in_the_middle_of_each_overlap():
    """Sticks of 120 in that slide 4 in into each other: from 116 to 120 in, and 116 in further on."""
    assert twelve_foot(sticks=3).joints == [INCH * 118, INCH * 234]
    assert twelve_foot(sticks=1).joints == []


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"insertion": INCH * 120}, "insertion"),
        ({"first_mark": INCH * 120}, "first_mark"),
        ({"pitch": Decimal(0)}, "pitch"),
        ({"pitch": Decimal("0.001")}, "pitch"),
        ({"radius": Decimal(0)}, "radius"),
        ({"sticks": 0}, "sticks"),
        ({"stop_gap": INCH * 18}, "stop_gap"),
        ({"stop_gap": -INCH}, "stop_gap"),
    ],
)
def test_a_recipe_that_makes_no_hoop_is_refused(changes, part):
    with pytest.raises(GeometryError) as refused:
        twelve_foot(**changes)
    assert refused.value.part == part


def test_marks_on_straight_legs_are_not_pulled():
    """One 10 ft stick on 20 in: legs of (120 - pi x 20) / 2 = 28.6 in hold the marks at 9, 27, 99 and 117 in."""
    tight = BendRecipe(INCH * 120, 1, Decimal(0), INCH * 20, INCH * 9, INCH * 18)
    assert tight.unpulled == [[1, 2, 6, 7]]
    assert tight.pulls_in_hoop == 3
    # Three sticks of 352 in on 79 in: legs of 51.9 in, so nothing of the middle stick is left out.
    long = BendRecipe(INCH * 120, 3, INCH * 4, INCH * 79, INCH * 9, INCH * 18)
    assert long.unpulled == [[1, 2, 3], [], [5, 6, 7]]
    assert long.pulls_in_hoop == 15


def test_a_mark_where_the_leg_ends_is_pulled():
    """A radius that leaves legs of 27 in, and marks a hair on either side of where they end."""
    radius = Decimal(66) * INCH / Decimal(math.pi)
    stick = BendRecipe(INCH * 120, 1, Decimal(0), radius, INCH * 9, INCH * 18)
    assert stick.hoop.leg == pytest.approx(float(INCH * 27), abs=1e-9)
    for nearer, unpulled in ((Decimal("0.001"), [1, 6, 7]), (Decimal("-0.001"), [1, 2, 6, 7])):
        moved = BendRecipe(INCH * 120, 1, Decimal(0), radius, INCH * 9 + nearer, INCH * 18)
        assert moved.unpulled == [unpulled]
    # From the right end: a mark at 93 in leaves 27 in.
    for nearer, unpulled in ((Decimal("0.001"), [1, 2, 6, 7]), (Decimal("-0.001"), [1, 2, 7])):
        moved = BendRecipe(INCH * 120, 1, Decimal(0), radius, INCH * 3 + nearer, INCH * 18)
        assert moved.unpulled == [unpulled]


def test_up_to_a_half_circle_every_mark_is_pulled():
    wide = BendRecipe(INCH * 120, 2, INCH * 4, INCH * 79, INCH * 9, INCH * 18)
    assert wide.unpulled == [[], []]
    assert wide.pulls_in_hoop == 14
