"""Where a spec stops being buildable: the last value that passes and the first that is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.shape import free_span, house_shape
from farmbuild.planning.house.spec import HouseSpec, SideClosing
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.materials import Material
from tests.planning.seasons import BY_CODE, LOW, TWELVE, feet, house, inches

#: The finest step of a length, in mm.
STEP = Decimal("0.000001")
ZERO = Decimal(0)
FOOT = feet(1)


def refused(spec: HouseSpec, materials: Mapping[str, Material] = BY_CODE) -> list[tuple[str, str]]:
    return [(p.field, p.part) for p in check_spec(spec, materials, UnitSystem.IMPERIAL)]


def doors(end: str, count: int, width: Decimal = ZERO, height: Decimal = ZERO) -> dict[str, Any]:
    return {f"{end}_door_count": count, f"{end}_door_width": width, f"{end}_door_height": height}


def recipe(base: HouseSpec, **changes: Any) -> HouseSpec:
    return replace(base, recipe=replace(base.recipe, **changes))


@pytest.mark.parametrize(
    ("field", "part", "most"),
    [
        ("ridge_purlins", "", 1),
        ("side_purlins", "", 50),
        ("hip_board_rows", "", 50),
        ("base_board_rows", "", 50),
        ("end_walls", "", 2),
        ("brace_count", "", 1_000),
        ("film_layers", "", 2),
        ("channel_runs", "", 50),
        ("screws_per_joint", "", 8),
        ("bolts_per_crossing", "", 8),
        ("anchor_count", "", 1_000),
    ],
)
def test_counts_up_to_their_most(field: str, part: str, most: int) -> None:
    spec = replace(TWELVE, **doors("front", 0))
    for count in (0, most):
        assert refused(replace(spec, **{field: count})) == []
    beyond = most + 2 if field == "side_purlins" else most + 1
    for count in (-2, beyond):
        (problem,) = check_spec(replace(spec, **{field: count}), BY_CODE, UnitSystem.IMPERIAL)
        assert (problem.field, problem.part) == (field, part)
        assert f"Type 0 to {most}." in problem.message


def test_side_purlins_are_shared_by_both_sides() -> None:
    (one,) = check_spec(replace(TWELVE, side_purlins=1), BY_CODE, UnitSystem.IMPERIAL)
    assert "Type 0 or 2." in one.message


def test_sticks_and_doors_up_to_their_most() -> None:
    assert refused(recipe(TWELVE, sticks=13)) == refused(recipe(TWELVE, sticks=0)) == [("recipe", "sticks")]
    # 12 sticks of 10 ft make 114 ft 6 in of pipe, far too long for 12 ft and the film; as a number of sticks it passes.
    assert ("recipe", "sticks") not in refused(recipe(TWELVE, sticks=12))
    assert refused(recipe(LOW, sticks=1)) == []
    for end in ("front", "back"):
        assert refused(replace(TWELVE, **doors(end, 4, inches(9), feet(5)))) == []
        assert refused(replace(TWELVE, **doors(end, 5, inches(9), feet(5)))) == [(f"{end}_door_count", "")]


@pytest.mark.parametrize(
    ("field", "zero_passes"),
    [
        ("post_span", False),
        ("length", False),
        ("spacing_wanted", False),
        ("post_length", False),
        ("post_depth", True),
        ("purlin_stick_length", False),
        ("end_stud_spacing", False),
        ("brace_length", False),
        ("film_side_allowance", True),
        ("film_end_allowance", True),
        ("recipe.stick_length", False),
        ("recipe.radius", False),
        ("recipe.first_mark", True),
        ("recipe.pitch", False),
        ("recipe.stop_gap", True),
    ],
)
def test_lengths_that_may_be_nothing(field: str, zero_passes: bool) -> None:
    name, _, part = field.partition(".")
    # So that a post or film of any length leaves nothing to refuse.
    open_ = replace(TWELVE, side_closing=SideClosing.OPEN)

    def with_(value: Decimal) -> HouseSpec:
        return recipe(open_, **{part: value}) if part else replace(open_, **{name: value})

    assert refused(with_(ZERO)) == ([] if zero_passes else [(name, part)])
    assert refused(with_(-STEP)) == [(name, part)]
    assert (name, part) in refused(with_(Decimal(10_000_000) + STEP))
    (problem,) = check_spec(with_(Decimal("Infinity")), BY_CODE, UnitSystem.METRIC)
    assert (problem.field, problem.part, "1370 mm" in problem.message) == (name, part, True)


def test_what_a_house_does_not_have_needs_no_length() -> None:
    bare = replace(
        TWELVE,
        post_material="",
        post_length=ZERO,
        post_depth=ZERO,
        ridge_purlins=0,
        side_purlins=0,
        purlin_stick_length=ZERO,
        purlin_insertion=ZERO,
        end_walls=0,
        end_stud_spacing=ZERO,
        brace_count=0,
        brace_length=ZERO,
        hip_board_rows=0,
        hip_board_lengths=(),
        base_board_rows=0,
        base_board_lengths=(),
        **doors("front", 0),
    )
    assert refused(bare) == []
    for one in ({"ridge_purlins": 1}, {"side_purlins": 2}):
        assert refused(replace(bare, **one)) == [("purlin_stick_length", "")]
    assert refused(replace(bare, post_material=TWELVE.post_material)) == [("post_length", "")]
    assert refused(replace(bare, hip_board_rows=1)) == [("hip_board_lengths", "")]
    assert refused(replace(bare, base_board_rows=1)) == [("base_board_lengths", "")]
    assert refused(replace(bare, end_walls=1)) == [("end_stud_spacing", "")]
    assert refused(replace(bare, brace_count=1)) == [("brace_length", "")]
    assert refused(replace(bare, **doors("front", 1))) == [("front_door_width", ""), ("front_door_height", "")]


def test_ten_kilometres_is_the_most() -> None:
    assert refused(replace(LOW, length=Decimal(10_000_000))) == []
    assert refused(replace(LOW, length=Decimal(10_000_000) + STEP)) == [("length", "")]


def test_ten_thousand_hoops_are_the_most() -> None:
    assert refused(replace(LOW, length=feet(9_999), spacing_wanted=feet(1))) == []
    assert refused(replace(LOW, length=feet(9_999) + STEP, spacing_wanted=feet(1))) == [("spacing_wanted", "")]


def test_a_house_of_one_bay() -> None:
    assert refused(replace(LOW, spacing_wanted=LOW.length)) == []
    assert refused(replace(LOW, spacing_wanted=LOW.length + STEP)) == [("spacing_wanted", "")]


#: How many of what, and the kinds that it is made of.
MADE_OF = {
    "post_material": ({}, "rail-1-5-8"),
    "purlin_material": ({"ridge_purlins": 0, "side_purlins": 0}, "rail-1-3-8"),
    "hip_board_material": ({"hip_board_rows": 0}, "lumber-1x6"),
    "base_board_material": ({"base_board_rows": 0}, "lumber-2x6"),
    "end_frame_material": ({"end_walls": 0, "front_door_count": 0}, "lumber-2x4 rail-1-5-8"),
    "brace_material": ({"brace_count": 0}, "rail-1-5-8 lumber-2x4"),
    "film_material": ({"film_layers": 0}, "film-32"),
    "channel_material": ({"channel_runs": 0, "channel_on_ends": False}, "channel"),
    "screw_material": ({"screws_per_joint": 0}, "screw bolt"),
    "bolt_material": ({"bolts_per_crossing": 0}, "bolt screw"),
    "anchor_material": ({"anchor_count": 0}, "anchor"),
}


@pytest.mark.parametrize("field", MADE_OF)
def test_each_part_needs_a_material_of_its_kind(field: str) -> None:
    none, codes = MADE_OF[field]
    # A door that fits without ground posts too.
    built = replace(TWELVE, front_door_height=feet(4))
    for code in codes.split():
        assert refused(replace(built, **{field: code})) == []
    for code in ("rail-1-3-8", "lumber-2x4", "film-32", "channel", "bolt", "anchor"):
        if BY_CODE[code].kind not in {BY_CODE[ok].kind for ok in codes.split()}:
            assert refused(replace(built, **{field: code})) == [(field, "")]
    assert refused(replace(built, **{field: "no-such"})) == [(field, "")]
    # A house without ground posts has no material for them; what is counted needs one.
    assert refused(replace(built, **{field: ""})) == ([(field, "")] if none else [])
    assert refused(replace(built, **{field: ""}, **none)) == []


def test_screws_bolts_and_channel_are_wanted_only_where_something_is_fixed() -> None:
    # One stick a hoop and no purlins: nothing joins. No boards: nothing crosses.
    assert refused(replace(LOW, screws_per_joint=2, bolts_per_crossing=1)) == []
    for joined in ({"ridge_purlins": 1}, {"side_purlins": 2}):
        spec = replace(LOW, screws_per_joint=2, purlin_material="rail-1-3-8", **joined)
        spec = replace(spec, purlin_stick_length=feet(10), purlin_insertion=inches(6))
        assert refused(spec) == [("screw_material", "")]
    for boarded in ("hip_board", "base_board"):
        spec = replace(LOW, bolts_per_crossing=1, **{f"{boarded}_rows": 1, f"{boarded}_material": "lumber-1x6"})
        assert refused(replace(spec, **{f"{boarded}_lengths": (feet(8),)})) == [("bolt_material", "")]
    assert refused(replace(LOW, channel_on_ends=True)) == [("channel_material", "")]
    assert refused(replace(LOW, channel_runs=1)) == [("channel_material", "")]


def test_the_first_mark_is_on_the_stick() -> None:
    assert refused(recipe(TWELVE, first_mark=feet(10))) == [("recipe", "first_mark")]
    # Nor where it leaves less than 6 in of pipe past it, or lies in the joint: no mark would be left.
    assert refused(recipe(TWELVE, first_mark=feet(10) - STEP)) == [("recipe", "first_mark")]
    assert refused(recipe(TWELVE, first_mark=feet(9) + inches(6) + STEP)) == [("recipe", "first_mark")]
    # One mark alone bends too little for a hoop, which is another matter.
    assert refused(recipe(TWELVE, first_mark=feet(9) + inches(6))) == [("recipe", "")]


def test_sticks_that_join_slide_into_each_other() -> None:
    assert refused(recipe(LOW, insertion=ZERO)) == []
    assert refused(recipe(LOW, insertion=LOW.recipe.stick_length)) == [("recipe", "insertion")]
    assert refused(recipe(TWELVE, insertion=ZERO)) == [("recipe", "insertion")]
    # A conduit has no swaged end: alone it makes a hoop, joined it does not.
    assert refused(recipe(LOW, sticks=2, insertion=inches(6))) == [("recipe", "tube")]


def test_a_post_stands_out_of_the_ground() -> None:
    assert refused(replace(TWELVE, post_length=TWELVE.post_depth)) == [("post_length", "")]
    low = replace(TWELVE, post_length=TWELVE.post_depth + STEP, front_door_count=0)
    assert refused(low) == []


def test_the_hoop_is_longer_than_its_span() -> None:
    """19' 6" of pipe. Over just less it would lie almost flat, which its own radius forbids."""
    assert refused(replace(TWELVE, post_span=feet(19, 6))) == [("post_span", "")]
    assert refused(replace(TWELVE, post_span=feet(19, 6) - STEP)) == [("recipe", "")]


def test_a_hoop_is_pulled_out_by_an_inch_at_most() -> None:
    free = free_span(TWELVE.recipe)
    assert refused(replace(TWELVE, post_span=free + inches(1))) == []
    assert refused(replace(TWELVE, post_span=free + inches(1) + STEP)) == [("recipe", "")]


def test_a_hoop_is_sprung_in_by_two_feet_a_side_at_most() -> None:
    """Or by half the span, where that is less (common practice, no source)."""
    free = free_span(TWELVE.recipe)
    assert refused(replace(TWELVE, post_span=free - inches(48))) == []
    assert refused(replace(TWELVE, post_span=free - inches(48) - STEP)) == [("recipe", "")]
    # Over two thirds of its free span a low hoop would be sprung in by half the span.
    narrow = (free_span(LOW.recipe) / Decimal("1.5")).quantize(STEP)
    assert refused(replace(LOW, post_span=narrow + STEP)) == []
    assert refused(replace(LOW, post_span=narrow - STEP)) == [("recipe", "")]


def test_purlins_of_one_stick_need_no_joint() -> None:
    one = replace(TWELVE, length=feet(10), purlin_material="rail-1-5-8", purlin_insertion=ZERO)
    assert refused(one) == []
    longer = replace(one, length=feet(10) + STEP)
    assert refused(longer) == [("purlin_material", "")]
    assert refused(replace(longer, purlin_material="rail-1-3-8")) == [("purlin_insertion", "")]
    assert refused(replace(one, purlin_insertion=feet(10))) == [("purlin_insertion", "")]
    assert refused(replace(one, purlin_insertion=feet(10) - STEP)) == []
    without = replace(longer, ridge_purlins=0, side_purlins=0)
    assert refused(without) == []


@pytest.mark.parametrize("field", ["hip_board_lengths", "base_board_lengths"])
def test_a_board_reaches_over_a_bay(field: str) -> None:
    """48 ft in 12 bays of 4 ft."""
    assert refused(replace(TWELVE, **{field: (feet(3), feet(4))})) == []
    assert refused(replace(TWELVE, **{field: (feet(3), feet(4) - STEP)})) == [(field, "")]


def test_doors_stand_in_a_framed_wall() -> None:
    for walls, ends in ((0, set()), (1, {"front"}), (2, {"front", "back"})):
        for end in ("front", "back"):
            spec = replace(TWELVE, end_walls=walls, front_door_count=0)
            spec = replace(spec, **doors(end, 1, feet(4), feet(6)))
            assert refused(spec) == ([] if end in ends else [(f"{end}_door_count", "")])
    (problem,) = check_spec(replace(TWELVE, end_walls=0), BY_CODE, UnitSystem.IMPERIAL)
    assert "in the front end" in problem.message and "Type at least 1 end walls" in problem.message


def test_doors_fit_between_the_ground_posts_and_under_the_hoop() -> None:
    """12 ft of span less a post of 1.66 in; 2x4 door posts show 1 1/2 in and door frames are of 3 1/2 in."""

    def with_(count: int, width: Decimal, height: Decimal = FOOT, gap: Decimal = ZERO) -> list[str]:
        spec = replace(TWELVE, door_clearance=gap, **doors("front", count, width, height))
        return [field for field, _ in refused(spec)]

    assert with_(1, inches("139.34")) == with_(2, inches("69.67")) == ["front_door_width"]
    assert with_(1, inches("139.34") - STEP) == with_(2, inches("69.67") - STEP) == []
    assert with_(1, inches(7)) == ["front_door_width"]
    assert with_(1, inches(7) + STEP) == []
    # What is left of the leaf, and how low it may be: 3 rails of 3 1/2 in.
    assert with_(1, inches(8), gap=inches("0.5")) == with_(1, FOOT, FOOT, inches("0.75")) == ["door_clearance"]
    assert with_(1, inches(8), gap=inches("0.5") - STEP) == with_(1, FOOT, FOOT, inches("0.75") - STEP) == []
    # sqrt(72^2 - 25.5^2) + 27.9027 less the header: 93.736 in, of which 93 11/16 is what a saw is set to.
    assert with_(1, feet(4), inches("93.6875")) == []
    assert with_(1, feet(4), inches("93.75")) == with_(1, feet(4), feet(8)) == ["front_door_height"]


def test_a_door_frame_of_tube_shows_its_outside_diameter() -> None:
    spec = replace(TWELVE, end_frame_material="rail-1-5-8")
    # 144 less 2 door posts and 2 halves of ground post, of 1.66 each.
    wide = inches("139.02")
    assert refused(replace(spec, **doors("front", 1, wide, FOOT))) == [("front_door_width", "")]
    assert refused(replace(spec, **doors("front", 1, wide - STEP, FOOT))) == []


def test_a_frame_of_unknown_size_takes_up_no_room() -> None:
    """Only the opening itself has to fit between the ground posts then, and sills reach up to it."""
    lumber = BY_CODE | {"lumber-2x4": replace(BY_CODE["lumber-2x4"], width=None, thickness=None)}
    wide = inches("142.34")
    assert refused(replace(TWELVE, **doors("front", 1, wide, FOOT)), lumber) == [("front_door_width", "")]
    assert refused(replace(TWELVE, **doors("front", 1, wide - STEP, FOOT)), lumber) == []
    rows = take_off(house("h", TWELVE), lumber, UnitSystem.IMPERIAL)
    # 72 in to each side less half the door of 4 ft and half a post of 1.66 in: 47.17.
    assert (inches("47.17"), 2) in [(row.length, row.quantity) for row in rows if row.purpose == "front end wall"]


def test_film_reaches_over_the_hoop_and_up_the_end_wall() -> None:
    def on_roll(spec: HouseSpec, width: Decimal | None) -> list[tuple[str, str]]:
        roll = replace(BY_CODE["film-32"], width=width)
        return refused(spec, BY_CODE | {"film-32": roll})

    # 19' 6" of hoop and 2 x 2 ft to spare.
    assert on_roll(TWELVE, feet(23, 6)) == []
    assert on_roll(TWELVE, feet(23, 6) - STEP) == [("film_material", "")]
    assert on_roll(TWELVE, None) == [("film_material", "")]
    assert on_roll(replace(TWELVE, film_layers=0), None) == []
    # Posts of 30 ft: the ridge is above 28 ft, and film that is less wide lies across the wall of 12 + 2 x 2 ft.
    tall = replace(TWELVE, post_length=feet(30), side_closing=SideClosing.OPEN)
    ridge = house_shape(tall).ridge_height
    assert ridge > feet(28)
    assert on_roll(tall, ridge - STEP) == []
    # 9 ft to spare round the wall: 12 + 2 x 9 = 30 ft across, and higher still.
    tall = replace(tall, end_film_allowance=feet(9))
    assert on_roll(tall, feet(30)) == []
    assert on_roll(tall, feet(30) - STEP) == [("film_material", "")]
    assert on_roll(replace(tall, end_walls=0, front_door_count=0), feet(30) - STEP) == []


def channel(spec: HouseSpec) -> list[tuple[str, Decimal | None, int]]:
    rows = take_off(house("h", spec), BY_CODE, UnitSystem.IMPERIAL)
    return [(row.purpose, row.length, row.quantity) for row in rows if row.material == "channel"]


def test_channel_runs_along_the_house_and_over_its_ends_as_wanted() -> None:
    along, over = ("channel along the house", feet(48), 4), ("channel over the end hoops", feet(19, 6), 2)
    assert channel(TWELVE) == [along, over]
    assert channel(replace(TWELVE, channel_on_ends=False)) == [along]
    assert channel(replace(TWELVE, channel_runs=0)) == [over]
    assert channel(replace(TWELVE, channel_runs=0, channel_on_ends=False)) == []
    assert channel(replace(TWELVE, channel_material="")) == []


def test_no_film_without_layers_of_it() -> None:
    def film(spec: HouseSpec) -> list[tuple[str, Decimal | None, int]]:
        rows = take_off(house("h", spec), BY_CODE, UnitSystem.IMPERIAL)
        return [(row.purpose, row.length, row.quantity) for row in rows if row.material == "film-32"]

    # 48 + 2 x 2 ft; the roll of 32 ft across the wall of 12 + 2 x 2 ft, so as long as the ridge is high.
    assert film(replace(TWELVE, film_layers=2, end_walls=1)) == [
        ("film over the house", feet(52), 2),
        ("film on the end walls", house_shape(TWELVE).ridge_height, 1),
    ]
    assert film(replace(TWELVE, end_walls=0, front_door_count=0)) == [("film over the house", feet(52), 1)]
    assert film(replace(TWELVE, film_layers=0)) == []
