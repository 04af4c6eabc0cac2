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


def test_the_lever_bar_is_needed_near_the_plain_end():
    recipe = twelve_foot()
    assert recipe.lever_from(INCH * 36) == INCH * 99
    assert recipe.lever_from(INCH * 3) is None
    assert recipe.lever_from(INCH * 200) == INCH * 9


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
