"""How the sides of a house close: film that must reach, and the curtain where it need not; figures by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.parts import PARTS
from farmbuild.planning.house.spec import HouseSpec, SideClosing
from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.materials import Kind, Material
from farmbuild.planning.results import TakeoffRow
from tests.planning.seasons import BY_CODE, TWELVE, TWENTY, feet, house, inches

IMPERIAL, METRIC = UnitSystem.IMPERIAL, UnitSystem.METRIC
STOCK = BY_CODE | {
    "crank": Material("crank", "curtain crank", Kind.HARDWARE),
    "guide": Material("guide", "curtain guide", Kind.HARDWARE),
    "film-4": Material("film-4", "film 4 ft wide", Kind.FILM, feet(4)),
    "no-width": Material("no-width", "odd film", Kind.FILM),
}
#: 3 sticks of 10 ft less 2 joints of 6 in are 29 ft of hoop; the posts stand 30 in out, the hoop 6 in deep in them.
BURIED = replace(
    TWENTY,
    side_closing=SideClosing.BURIED,
    post_socket_depth=inches(6),
    film_side_allowance=feet(2, 6),
    front_door_count=0,
    back_door_count=0,
)
CURTAIN = replace(
    BURIED,
    side_closing=SideClosing.CURTAIN,
    film_side_allowance=Decimal(0),
    curtain_film_material="film-4",
    curtain_spare=inches(9),
    curtain_pipe_material="rail-1-3-8",
    curtain_pipe_stick_length=feet(10),
    curtain_pipe_insertion=inches(4),
    curtain_crank_material="crank",
    curtain_guide_material="guide",
)


def problems(spec: HouseSpec, units: UnitSystem = IMPERIAL) -> list[tuple[str, str]]:
    return [(problem.field, problem.message) for problem in check_spec(spec, STOCK, units)]


def remarks(spec: HouseSpec) -> list[str]:
    return [
        r.message for r in spec_remarks(spec, STOCK, IMPERIAL) if r.field in ("side_closing", "film_side_allowance")
    ]


def rows(spec: HouseSpec) -> dict[str, TakeoffRow]:
    return {row.purpose: row for row in take_off(house("a", spec), STOCK, IMPERIAL)}


def allowing(spec: HouseSpec, allowance: Decimal, **changes: object) -> HouseSpec:
    return replace(spec, film_side_allowance=allowance, **changes)  # type: ignore[arg-type]


# Film to the ground


@pytest.mark.parametrize("allowance", [Decimal(0), inches(16), inches("23.9375")])
def test_film_that_ends_above_the_ground_is_refused_with_what_to_type(allowance: Decimal) -> None:
    """The ends of the hoop are 30 less 6, that is 24 in up, and 29 ft and 2 x 24 in are 33 ft."""
    ((field, message),) = problems(allowing(BURIED, allowance))
    assert field == "film_side_allowance"
    assert "Type at least 2'," in message and "film 33' wide" in message
    assert problems(allowing(BURIED, inches(24))) == []


def test_in_metres_the_number_to_type_is_enough_when_typed() -> None:
    """24 in is 609.6 mm, so 610 mm."""
    ((_, message),) = problems(allowing(BURIED, Decimal(609)), METRIC)
    assert "Type at least 610 mm" in message
    assert problems(allowing(BURIED, Decimal(610)), METRIC) == []


def test_what_is_missing_is_said() -> None:
    """24 less 16 in."""
    ((_, message),) = problems(allowing(BURIED, inches(16)))
    assert "ends 8\" above the ground: the ends of the hoop are 2' above the ground" in message


@pytest.mark.parametrize(("allowance", "told"), [(24, '0"'), (27, '3"'), (30, ""), (40, "")])
def test_film_with_little_to_bury_is_told(allowance: int, told: str) -> None:
    found = remarks(allowing(BURIED, inches(allowance)))
    assert found == [] if not told else f"with {told} to bury" in found[0]


def test_a_house_without_posts_or_without_film_is_not_asked() -> None:
    bare = {"post_material": "", "post_length": Decimal(0), "post_depth": Decimal(0), "post_socket_depth": Decimal(0)}
    assert problems(allowing(BURIED, Decimal(0), **bare)) == []
    no_film = allowing(BURIED, Decimal(0), film_layers=0)
    assert problems(no_film) == [] and remarks(no_film) == []


# On the base boards


def test_film_on_base_boards_comes_down_to_their_middle() -> None:
    """One row of 5.5 in boards: 24 less 2.75 is 21.25 in; two rows: 18.5 in."""
    spec = replace(BURIED, side_closing=SideClosing.BOARD)
    ((_, message),) = problems(allowing(spec, inches(21)))
    assert "Type at least 1' 9 1/4\"" in message and "middle of the base boards" in message
    assert problems(allowing(spec, inches("21.25"))) == []
    assert remarks(allowing(spec, inches("21.25"))) == []
    two = replace(spec, base_board_rows=2)
    assert problems(allowing(two, inches("18.5"))) == []
    assert [field for field, _ in problems(allowing(two, inches("18.4")))] == ["film_side_allowance"]


@pytest.mark.parametrize(
    ("closing", "field"), [(SideClosing.BOARD, "base_board_rows"), (SideClosing.CURTAIN, "hip_board_rows")]
)
def test_what_closes_on_boards_needs_them(closing: SideClosing, field: str) -> None:
    ((found, message),) = problems(replace(CURTAIN, side_closing=closing, **{field: 0}))
    assert found == "side_closing" and "Type 1 row of them" in message


# Open on purpose


def test_sides_left_open_are_taken_and_told() -> None:
    """30 less 6 less 16 in."""
    spec = allowing(BURIED, inches(16), side_closing=SideClosing.OPEN)
    assert problems(spec) == []
    (told,) = remarks(spec)
    assert 'ends 8" above the ground' in told and "2' to spare would reach it" in told


# Curtains


def test_film_over_a_curtain_comes_down_to_the_hip_board() -> None:
    """The middle of the 5.5 in hip board is 2.75 in below the post's top, above the ends of the hoop; in a shallow
    socket of 1 in it is 1.75 in below them."""
    assert problems(CURTAIN) == []
    shallow = replace(CURTAIN, post_socket_depth=inches(1))
    ((field, message),) = problems(shallow)
    assert field == "film_side_allowance" and 'Type at least 1 3/4"' in message
    assert problems(allowing(shallow, inches("1.75"))) == []


def test_a_curtain_takes_film_pipe_cranks_and_guides() -> None:
    """96 ft of house: 2 x 96 ft of film; ceil((96 ft - 4 in) / (10 ft - 4 in)) = ceil(1148 / 116) = 10 sticks a side;
    10 x 120 - 9 x 4 = 1164 in, 12 in more than 1152; 25 hoops on 2 sides are 50 guides."""
    found = rows(CURTAIN)
    film, pipe = found["side curtains"], found["curtain pipes"]
    assert (film.material, film.length, film.quantity, film.whole) == ("film-4", feet(96), 2, False)
    assert 'width needed 2\' 3 1/4" from the hip board to the ground + 9" = 3\' 0 1/4"' in film.working
    assert (pipe.material, pipe.length, pipe.quantity, pipe.whole) == ("rail-1-3-8", feet(10), 20, True)
    assert (pipe.trim, pipe.trims) == (inches(12), 2)
    assert (found["curtain cranks"].material, found["curtain cranks"].quantity) == ("crank", 2)
    assert (found["curtain guides"].material, found["curtain guides"].quantity) == ("guide", 50)
    assert "common practice, no source" in found["curtain guides"].working


def test_joints_of_curtain_pipes_are_screwed_too() -> None:
    """9 joints a side, 2 screws each."""
    more = (
        rows(CURTAIN)["joint screws"].quantity
        - rows(replace(CURTAIN, side_closing=SideClosing.OPEN))["joint screws"].quantity
    )
    assert more == 2 * 9 * 2
    assert "18 in curtain pipes" in rows(CURTAIN)["joint screws"].working


def test_a_short_house_has_its_curtain_pipe_in_one_piece() -> None:
    """So it joins nothing, and needs no swage."""
    spec = replace(CURTAIN, curtain_pipe_material="rail-1-5-8", length=feet(9), spacing_wanted=feet(3))
    assert problems(spec) == []
    pipe = rows(spec)["curtain pipes"]
    assert (pipe.length, pipe.quantity, pipe.whole) == (feet(9), 2, False)


def test_no_other_closing_takes_a_curtain() -> None:
    for closing in SideClosing:
        found = rows(allowing(CURTAIN, feet(3), side_closing=closing))
        assert ("side curtains" in found) == (closing is SideClosing.CURTAIN)


def test_film_work_counts_the_curtains() -> None:
    """2 x 96 ft of curtain and 20 x 10 ft of pipe more."""
    (work,) = [work for part in PARTS for work in part.works if work.kind is WorkKind.FILM]

    def feet_of(spec: HouseSpec) -> int:
        return work.count(house_context(spec, STOCK, IMPERIAL))[0]

    assert feet_of(CURTAIN) - feet_of(replace(CURTAIN, side_closing=SideClosing.OPEN)) == 192 + 200


WRONG = [
    ({"curtain_film_material": ""}, "curtain_film_material", "choose how else the sides close"),
    ({"curtain_film_material": "bolt"}, "curtain_film_material", "made of film"),
    ({"curtain_film_material": "gone"}, "curtain_film_material", "'gone'"),
    ({"curtain_film_material": "no-width"}, "curtain_film_material", "has no width"),
    # 27.25 + 24 in on a roll of 4 ft.
    ({"curtain_spare": inches(24)}, "curtain_film_material", "4' 3 1/4\""),
    ({"curtain_spare": Decimal(0)}, "curtain_spare", "is 0"),
    ({"curtain_spare": Decimal(-1)}, "curtain_spare", "Type 0 or more"),
    ({"curtain_spare": Decimal("NaN")}, "curtain_spare", "not a length"),
    ({"curtain_spare": Decimal("1e12")}, "curtain_spare", "above"),
    ({"curtain_pipe_material": ""}, "curtain_pipe_material", "of no material"),
    ({"curtain_pipe_material": "rail-1-5-8"}, "curtain_pipe_material", "no swaged end"),
    ({"curtain_pipe_stick_length": Decimal(0)}, "curtain_pipe_stick_length", "is 0"),
    ({"curtain_pipe_stick_length": inches(4)}, "curtain_pipe_insertion", "as long as the curtain pipe stick"),
    ({"curtain_pipe_insertion": Decimal(0)}, "curtain_pipe_insertion", "no insertion"),
    ({"curtain_crank_material": ""}, "curtain_crank_material", "choose how else"),
    ({"curtain_crank_material": "bolt"}, "curtain_crank_material", "made of hardware"),
    ({"curtain_guide_material": ""}, "curtain_guide_material", "of no material"),
    ({"side_closing": "shut"}, "side_closing", "none of the choices"),
]


@pytest.mark.parametrize(("changes", "field", "words"), WRONG)
def test_a_curtain_that_cannot_be_made_is_refused_at_its_field(
    changes: dict[str, object], field: str, words: str
) -> None:
    ((found, message),) = problems(replace(CURTAIN, **changes))  # type: ignore[arg-type]
    assert found == field and words in message


def test_twelve_reaches_the_ground_with_nothing_to_bury() -> None:
    """Its posts stand 24 in out, and it has 24 in to spare."""
    assert problems(TWELVE) == []
    assert any('with 0" to bury' in told for told in remarks(TWELVE))
