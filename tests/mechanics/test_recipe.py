"""Marks and pulls against the trade's own figures."""

import math
from decimal import Decimal

import pytest

from farmbuild.mechanics import BendRecipe, GeometryError, LeftOff, radius_for_span

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
    """9, 27, 45, 63, 81 and 99 in on a 10 ft stick; 117 in lies in the last 4 in, where the next stick slides in."""
    assert [mark / INCH for mark in twelve_foot().marks] == [9, 27, 45, 63, 81, 99]
    assert [(mark / INCH, why) for mark, why in twelve_foot().left_off] == [(117, LeftOff.JOINT)]
    assert twelve_foot().pulls == 6
    assert [mark / INCH for mark in twelve_foot(pitch=INCH * 17).marks] == [9, 26, 43, 60, 77, 94, 111]


def test_a_mark_is_left_off_inside_an_insertion_and_in_the_last_6_in():
    """At either end of each stick where sticks are joined; at the plain end of a lone stick for want of pipe."""
    hair = Decimal("0.000001")
    lone = {"sticks": 1, "insertion": Decimal(0)}
    for first, changes, left_off in (
        (INCH * 4, {}, {}),
        (INCH * 4 - hair, {"pitch": INCH * 100}, {INCH * 4 - hair: LeftOff.JOINT}),
        (INCH * 4 - hair, lone, {}),
        (INCH * 114, lone, {}),
        (INCH * 6, {"pitch": INCH * 108 + hair}, {INCH * 114 + hair: LeftOff.SHORT}),
        (INCH * 6, {"pitch": INCH * 108 + hair, **lone}, {INCH * 114 + hair: LeftOff.SHORT}),
        (INCH * 6, {"pitch": INCH * 104, "insertion": INCH * 10}, {INCH * 6: LeftOff.JOINT}),
        (INCH * 11, {"pitch": INCH * 100, "insertion": INCH * 10}, {INCH * 111: LeftOff.JOINT}),
    ):
        recipe = twelve_foot(first_mark=first, **({"pitch": INCH * 200} | changes))
        assert dict(recipe.left_off) == left_off, (first, changes)


def test_every_mark_left_off_makes_no_hoop():
    with pytest.raises(GeometryError) as refused:
        twelve_foot(first_mark=INCH * 115)
    assert refused.value.part == "first_mark"


def test_a_batch_of_old_keeps_every_mark_and_a_pipe_bent_from_end_to_end():
    old = twelve_foot(radius=INCH * 79, all_along=True)
    assert [mark / INCH for mark in old.marks] == [9, 27, 45, 63, 81, 99, 117]
    half = 236 / (2 * 79)
    assert old.hoop.span / 25.4 == pytest.approx(2 * 79 * math.sin(half))
    assert old.hoop.rise / 25.4 == pytest.approx(79 * (1 - math.cos(half)))
    assert (old.pulls_in_hoop, old.left_off) == (14, [])


def test_pulls_turn_by_pitch_over_radius():
    recipe = twelve_foot()
    assert recipe.degrees_a_pull == pytest.approx(math.degrees(18 / 76))
    assert recipe.developed == INCH * 236
    assert recipe.marks_on_hoop[6] == INCH * (116 + 9)


def test_marks_stand_inside_the_stick():
    """12, 30 ... 102 in; one at 120 in would be at the very end."""
    assert [mark / INCH for mark in twelve_foot(first_mark=INCH * 12).marks] == [12, 30, 48, 66, 84, 102]
    assert [
        mark / INCH for mark in twelve_foot(first_mark=Decimal(0), pitch=INCH * 60, stop_gap=INCH, sticks=1).marks
    ] == [0, 60]
    ends = twelve_foot(first_mark=INCH * 12 - Decimal("0.000001"))
    assert (ends.pulls, len(ends.left_off)) == (6, 1)


def test_as_many_marks_as_make_sense():
    """500 marks of 1/4 in on 125 in, of which those in the last 6 in and in the first 4 are not made."""
    many = {"stick_length": INCH * 125, "first_mark": Decimal(0), "stop_gap": Decimal(0)}
    assert twelve_foot(**many, pitch=INCH / 4).pulls == 500 - 16 - 23
    with pytest.raises(GeometryError, match="more than 500"):
        twelve_foot(**many, pitch=INCH / 4 - Decimal("0.000001"))


def test_a_pull_stops_short_of_its_pitch_at_most():
    assert twelve_foot(stop_gap=Decimal(0)).pulls == twelve_foot(stop_gap=INCH * 18 - Decimal("0.000001")).pulls == 6


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
    """One 10 ft stick on 20 in: the half circle about its middle takes pi x 20 = 62.8 in, from 28.6 to 91.4 in.

    So the mark at 9 in is not pulled, those at 27 and 99 in bend what is left of their 18 in there: 7.4 and 1.4 in.
    """
    tight = BendRecipe(INCH * 120, 1, Decimal(0), INCH * 20, INCH * 9, INCH * 18, INCH)
    assert tight.unpulled == [[1]]
    edge = 60 - math.pi * 10
    assert [pull.length / 25.4 for pull in tight.pulled] == pytest.approx([36 - edge, 18, 18, 18, 30 - edge])
    assert [pull.part for pull in tight.pulled] == [True, False, False, False, True]
    assert sum(map(tight.degrees_of, tight.pulled)) == pytest.approx(180)
    # A part pull is stopped sooner: 18 in along the bender, by what it turns less.
    short = (18 - (36 - edge)) / 20
    assert tight.gap_of(tight.pulled[0]) / 25.4 == pytest.approx(1 + 18 * short)
    assert tight.gap_of(tight.pulled[1]) / 25.4 == 1
    # Three sticks on 79 in take pi x 79 = 248.2 in about 176 in. Within w of it lie 2 w - 16 in of what is bent, so
    # w is 132.1: from 43.9 in, by the third mark of the first stick, to 308.1 in, by the fifth of the last.
    long = BendRecipe(INCH * 120, 3, INCH * 4, INCH * 79, INCH * 9, INCH * 18)
    assert long.unpulled == [[1, 2], [], [6]]
    assert long.pulls_in_hoop == 15
    assert [pull.length / 25.4 for pull in long.pulled if pull.part] == pytest.approx([10.09, 4.09], abs=0.01)
    assert sum(map(long.degrees_of, long.pulled)) == pytest.approx(180)


def test_up_to_a_half_circle_every_mark_is_pulled_in_full():
    wide = BendRecipe(INCH * 120, 2, INCH * 4, INCH * 79, INCH * 9, INCH * 18)
    assert wide.unpulled == [[], []]
    assert wide.pulls_in_hoop == 12
    assert not any(pull.part for pull in wide.pulled)
    # 108 in of the first stick, 116 to 224 in along the pipe of the second; 8 in by the joint and 12 in at the end not.
    assert [edge / 25.4 for stretch in wide.stretches for edge in stretch] == pytest.approx([0, 108, 116, 224])


@pytest.mark.parametrize("radius", [20, 38, 76, 79, 100])
def test_the_radius_for_a_span_is_found_again(radius):
    recipe = twelve_foot(radius=INCH * radius)
    assert radius_for_span(recipe, recipe.hoop.span) / 25.4 == pytest.approx(radius, abs=1e-4)
    with pytest.raises(GeometryError):
        radius_for_span(recipe, float(recipe.developed))


def test_marks_and_sleeves_go_up_to_their_limits():
    """500 marks on a stick of 5 m, no more; a sleeve is shorter than its stick."""
    given = {"stick_length": Decimal(5000), "insertion": Decimal(0), "radius": Decimal(2000), "first_mark": Decimal(0)}
    most = BendRecipe(**given, sticks=1, pitch=Decimal(10))
    assert len(most.marks) + len(most.left_off) == 500
    with pytest.raises(GeometryError, match="more than 500"):
        BendRecipe(**given, sticks=1, pitch=Decimal("9.999"))
    with pytest.raises(GeometryError, match="does not fit a stick"):
        BendRecipe(**given, sticks=2, pitch=Decimal(100), sleeve=Decimal(5000))
    # One stick has no joint, so that nothing is asked of a sleeve.
    assert BendRecipe(**given, sticks=1, pitch=Decimal(100), sleeve=Decimal(5000)).sticks == 1
