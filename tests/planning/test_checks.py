"""Specs that cannot be built are refused at the field, with the numbers that say why."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec
from farmbuild.planning.house.context import SpecProblem
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.takeoff import take_off
from tests.planning.seasons import BY_CODE, HOUSE_TYPES, TWELVE, TWENTY, feet, house, inches
from tests.size import examples

IMPERIAL = UnitSystem.IMPERIAL


def problems(spec: HouseSpec, units: UnitSystem = IMPERIAL) -> list[SpecProblem]:
    return check_spec(spec, BY_CODE, units)


@pytest.mark.parametrize("spec", HOUSE_TYPES)
def test_the_types_can_be_built(spec: HouseSpec) -> None:
    assert problems(spec) == []


#: Nor a door, which would not fit under so low a hoop.
NO_POSTS = {"post_material": "", "post_length": Decimal(0), "post_depth": Decimal(0), "front_door_count": 0}


def recipe(**changes: Any) -> dict[str, Any]:
    return {"recipe": replace(TWELVE.recipe, **changes)}


def front(count: int, width: Decimal, height: Decimal) -> dict[str, Any]:
    return {"front_door_count": count, "front_door_width": width, "front_door_height": height}


REFUSED: list[tuple[dict[str, Any], str, str, list[str]]] = [
    # Developed 19' 6" cannot arch over 20 ft.
    ({"post_span": feet(20)}, "post_span", "", ["19' 6\"", "20'", "2 x 10'"]),
    ({"post_length": feet(2), "post_depth": feet(2)}, "post_length", "", ["2'"]),
    ({"post_length": feet(2), "post_depth": feet(3)}, "post_length", "", ["2'", "3'"]),
    # The post stands 4 ft less 2 ft above the ground.
    ({"post_socket_depth": feet(2)}, "post_socket_depth", "", ["2'", "Type less than 2'"]),
    ({"post_socket_depth": inches(-1)}, "post_socket_depth", "", ['-1"']),
    ({"post_socket_depth": Decimal("NaN")}, "post_socket_depth", "", ["not a length"]),
    ({"post_socket_depth": Decimal("1e12")}, "post_socket_depth", "", ["above"]),
    ({**NO_POSTS, "post_socket_depth": inches(6)}, "post_socket_depth", "", ["no ground posts", "Type 0"]),
    ({**NO_POSTS, "hoop_over_post": True}, "hoop_over_post", "", ["no ground posts"]),
    ({**NO_POSTS, "post_stop_material": "bolt"}, "post_stop_material", "", ["no ground posts"]),
    ({"post_stop_material": "anchor"}, "post_stop_material", "", ["fastener"]),
    ({"post_stop_material": "gone"}, "post_stop_material", "", ["'gone'"]),
    # 0.922 less 2 x 0.049 is 0.824 in inside, and the rail 1.375 outside.
    ({"post_material": "emt-3-4"}, "post_material", "", ['0.824"', '1 3/8"', "stand over"]),
    # 1.375 less 2 x 0.065 is 1.245 in inside, and the post 1.66 outside.
    ({"hoop_over_post": True}, "post_material", "", ['1.245"', '1.660"', "stand in"]),
    ({"spacing_wanted": feet(49)}, "spacing_wanted", "", ["49'", "48'"]),
    # 900 ft at an inch: 10,800 bays.
    ({"length": feet(900), "spacing_wanted": inches(1)}, "spacing_wanted", "", ["10,801", "10,000"]),
    ({"spacing_wanted": inches("0.01")}, "spacing_wanted", "", ['at least 1"']),
    ({"post_span": inches(11)}, "post_span", "", ['11"', "at least 1'"]),
    ({"post_span": Decimal(0)}, "post_span", "", ["0"]),
    ({"length": feet(-4)}, "length", "", ["-4'"]),
    ({"spacing_wanted": Decimal(0)}, "spacing_wanted", "", ["0"]),
    ({"length": Decimal("NaN")}, "length", "", ["not a length"]),
    ({"length": Decimal("1e12")}, "length", "", ["above"]),
    ({"film_side_allowance": feet(-1)}, "film_side_allowance", "", ["-1'"]),
    ({"end_stud_spacing": Decimal(0)}, "end_stud_spacing", "", ["0"]),
    ({"brace_length": Decimal(0)}, "brace_length", "", ["0"]),
    ({"hip_board_lengths": (feet(8), feet(-1))}, "hip_board_lengths", "", ["-1'"]),
    # 25.5 in from the middle: sqrt(72^2 - 25.5^2) + 27.9027 = 95.2360 in; less the header, 93.736 in.
    (front(1, feet(4), feet(8)), "front_door_height", "", ["8'", "7' 11 1/4\"", "7' 9 11/16\""]),
    (front(3, feet(4), feet(2)), "front_door_width", "", ["3 x 4'", "12'"]),
    (front(1, inches(6), feet(6)), "front_door_width", "", ['6"', '3 1/2"']),
    # 140 + 3 = 143 in of 144 centre to centre, but 1.66 in of posts leave 142.34, shown to the sixteenth.
    (front(1, inches(140), feet(1)), "front_door_width", "", ["11' 11\"", "11' 10 5/16\""]),
    # 48 - 2 x 20.5 = 7 in is no more than 2 uprights of 3 1/2 in.
    ({"door_clearance": inches("20.5")}, "door_clearance", "", ["1' 8 1/2\"", '3 1/2"']),
    ({"door_clearance": inches(-1)}, "door_clearance", "", ['-1"', "Type 0 or more"]),
    ({"door_clearance": Decimal("NaN")}, "door_clearance", "", ["not a length"]),
    ({"door_clearance": Decimal("1e12")}, "door_clearance", "", ["above"]),
    (
        {"back_door_count": 1, "back_door_width": feet(3), "back_door_height": feet(6), "end_walls": 1},
        "back_door_count",
        "",
        ["1 framed end walls"],
    ),
    ({"front_door_count": -1}, "front_door_count", "", ["-1"]),
    # 19' 6" + 2 x 7 ft = 33' 6" of film, on a 32 ft roll.
    ({"film_side_allowance": feet(7)}, "film_material", "", ["33' 6\"", "32'"]),
    ({"hip_board_lengths": (feet(3),)}, "hip_board_lengths", "", ["3'", "4'"]),
    ({"base_board_lengths": ()}, "base_board_lengths", "", ["4'"]),
    ({"hip_board_rows": -1}, "hip_board_rows", "", ["-1"]),
    ({"side_purlins": 3}, "side_purlins", "", ["3", "2 or 4"]),
    ({"ridge_purlins": 10**12}, "ridge_purlins", "", ["1000000000000"]),
    ({"anchor_count": 10**12}, "anchor_count", "", ["1000000000000"]),
    ({"film_layers": 3}, "film_layers", "", ["3"]),
    ({"end_walls": 3}, "end_walls", "", ["3"]),
    ({"purlin_insertion": feet(10)}, "purlin_insertion", "", ["10'"]),
    ({"purlin_insertion": Decimal(0)}, "purlin_insertion", "", ["48'", "10'"]),
    ({"purlin_material": "rail-1-5-8"}, "purlin_material", "", ["no swaged end"]),
    ({"purlin_material": ""}, "purlin_material", "", ["purlins"]),
    ({"hip_board_material": ""}, "hip_board_material", "", ["hip boards"]),
    ({"film_material": ""}, "film_material", "", ["The house has film, but of no material"]),
    ({"film_material": "no-such"}, "film_material", "", ["no-such"]),
    ({"post_material": "lumber-2x4"}, "post_material", "", ["lumber", "tube"]),
    ({"film_material": "screw"}, "film_material", "", ["fastener", "film"]),
    ({"anchor_material": "bolt"}, "anchor_material", "", ["fastener", "anchor"]),
    (recipe(tube=""), "recipe", "tube", ["hoops"]),
    (recipe(tube="rail-1-5-8"), "recipe", "tube", ["2 sticks", "swaged"]),
    (recipe(insertion=feet(10)), "recipe", "insertion", ["10'"]),
    (recipe(insertion=Decimal(0)), "recipe", "insertion", ["2 sticks"]),
    (recipe(first_mark=feet(11)), "recipe", "first_mark", ["11'", "10'"]),
    (recipe(pitch=Decimal(0)), "recipe", "pitch", ["0"]),
    (recipe(radius=feet(-5)), "recipe", "radius", ["-5'"]),
    (recipe(sticks=0), "recipe", "", ["0"]),
    (recipe(sticks=13), "recipe", "sticks", ["13", "1 to 12"]),
    (recipe(stop_gap=inches(18)), "recipe", "stop_gap", ["1' 6\""]),
    (recipe(pitch=inches("0.5")), "recipe", "pitch", ['at least 1"']),
    (recipe(stick_length=feet(3000), pitch=inches(2)), "recipe", "pitch", ["more than 500", "3000'"]),
    # Radius 5 ft: a half circle 10 ft wide, 2 ft narrower than the posts.
    (recipe(radius=feet(5)), "recipe", "", ["10'", "2'", "12'"]),
    # Nearly straight: far wider than the posts.
    (recipe(radius=feet(20)), "recipe", "", ["4'"]),
]


@pytest.mark.parametrize(("changes", "field", "part", "words"), REFUSED)
def test_refused_at_the_field(changes: dict[str, Any], field: str, part: str, words: list[str]) -> None:
    found = problems(replace(TWELVE, **changes))
    assert found, "nothing was refused"
    here = [p for p in found if p.field == field and (not part or p.part == part)]
    assert here, found
    for word in words:
        assert any(word in p.message for p in here), (word, here)


def test_door_wider_than_the_hoop_at_its_height_is_said_in_metric_too() -> None:
    (problem,) = problems(replace(TWELVE, **front(1, feet(4), feet(8))), UnitSystem.METRIC)
    assert problem.field == "front_door_height"
    assert "2\u202f438 mm" in problem.message
    assert "'" not in problem.message


def test_end_wall_film_has_to_reach_the_ridge() -> None:
    narrow = dict(BY_CODE)
    narrow["film-32"] = replace(BY_CODE["film-32"], width=None)
    (problem,) = check_spec(TWELVE, narrow, IMPERIAL)
    assert (problem.field, "no width" in problem.message) == ("film_material", True)


def test_one_mistyped_number_gives_one_message() -> None:
    assert len(problems(replace(TWENTY, post_span=feet(200)))) == 1


def test_a_purlin_tube_without_purlins_is_nothing() -> None:
    """Their stick length may be left empty then."""
    spec = replace(TWELVE, ridge_purlins=0, side_purlins=0, purlin_stick_length=Decimal(0))
    assert problems(spec) == []
    purposes = {row.purpose: row for row in take_off(house("h", spec), BY_CODE, IMPERIAL)}
    assert "ridge purlins" not in purposes
    # 13 hoops of 2 sticks: 13 joints of 2 screws.
    assert purposes["joint screws"].quantity == 26


def between(low: int, high: int) -> st.SearchStrategy[Decimal]:
    return st.decimals(min_value=low, max_value=high, places=3)


ODD = st.sampled_from([Decimal(0), Decimal(-1), Decimal("1e9"), Decimal("NaN"), Decimal("Infinity"), feet(1)])


def spec_of(draw: st.DrawFn, odd: bool) -> HouseSpec:
    """A house near 12 or 20 ft; when ``odd``, with one number that may be anything."""
    base = draw(st.sampled_from([TWELVE, TWENTY]))
    span = int(base.post_span)
    values: dict[str, Any] = {
        "post_span": draw(between(span - 400, span + 300)),
        "length": draw(between(3_000, 40_000)),
        "spacing_wanted": draw(between(600, 2_400)),
        "post_length": draw(between(900, 1_800)),
        "post_depth": draw(between(300, 800)),
        "end_stud_spacing": draw(between(300, 1_500)),
        "purlin_insertion": draw(between(50, 300)),
        "film_end_allowance": draw(between(0, 1_000)),
    }
    if odd:
        values[draw(st.sampled_from(sorted(values)))] = draw(ODD)
    doors = front(draw(st.integers(0, 2)), draw(between(700, 1_200)), draw(between(1_500, 2_100)))
    rises = draw(st.integers(0, 3)) * 2
    radius = draw(between(int(base.recipe.radius) - 100, int(base.recipe.radius) + 100))
    return replace(base, recipe=replace(base.recipe, radius=radius), side_purlins=rises, **doors, **values)


@examples(120, 3000)
@given(st.data(), st.booleans())
def test_whatever_passes_can_be_taken_off(data: st.DataObject, odd: bool) -> None:
    """Random specs are refused or give a take-off of positive quantities and lengths, and never an error."""
    spec = data.draw(st.composite(spec_of)(odd))
    if problems(spec):
        event("refused")
        return
    event("taken off")
    for row in take_off(house("h", spec), BY_CODE, IMPERIAL):
        assert row.quantity > 0
        assert row.length is None or row.length > 0
        assert 0 <= row.trim < (row.length or 1)
        assert row.trims == 0 or row.trim > 0
