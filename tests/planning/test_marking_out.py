"""Diagonals and places of posts against plain trigonometry, and what a crew must know with the numbers of the house."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import atan2, cos, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem, format_length
from farmbuild.planning.house.part import WorkKind
from farmbuild.planning.house.shape import house_shape
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.house.survey import survey
from farmbuild.planning.work.knowing import to_know
from tests.planning.seasons import LOW, TWELVE, TWENTY, feet, inches

IMPERIAL, METRIC = UnitSystem.IMPERIAL, UnitSystem.METRIC


@given(st.integers(2, 40), st.integers(4, 300))
def test_the_diagonal_by_its_angle(span: int, length: int) -> None:
    """The far corner seen from the near one: the length over the cosine of the angle, not a root of squares."""
    shape = replace(house_shape(TWELVE), span=feet(span), length=feet(length))
    found = survey(shape)
    turn = atan2(span, length)
    assert float(found.diagonal) == pytest.approx(length * 304.8 / cos(turn), abs=1e-5)
    assert float(found.diagonal) * sin(turn) == pytest.approx(span * 304.8, abs=1e-5)
    for units, step in ((IMPERIAL, Decimal("6.35")), (METRIC, Decimal(5))):
        taped = found.taped_diagonal(units)
        assert taped % step == 0
        assert abs(taped - found.diagonal) <= step / 2


def test_three_four_five() -> None:
    shape = replace(house_shape(TWELVE), span=feet(30), length=feet(40))
    assert survey(shape).diagonal == feet(50)


@pytest.mark.parametrize(
    ("spec", "imperial", "metric"),
    [
        # 48 x 12 ft: 576 in and 144 in, 593.727 in: 593 3/4 in; 15 080.7 mm.
        (TWELVE, """49' 5 3/4\"""", "15\u202f080 mm"),
        # 96 x 20 ft: 1,152 in and 240 in, 1,176.735 in: 1,176 3/4 in; 29 889.1 mm.
        (TWENTY, """98' 0 3/4\"""", "29\u202f890 mm"),
    ],
)
def test_diagonals_as_they_are_taped(spec: HouseSpec, imperial: str, metric: str) -> None:
    found = survey(house_shape(spec))
    assert format_length(found.taped_diagonal(IMPERIAL), IMPERIAL) == imperial
    assert format_length(found.taped_diagonal(METRIC), METRIC) == metric


def test_places_run_from_one_corner_to_the_other() -> None:
    assert survey(house_shape(TWELVE)).places == tuple(feet(4 * bay) for bay in range(13))
    # 50 ft at no more than 4 ft: 13 bays of 46 2/13 in, none of them added up.
    uneven = survey(house_shape(replace(TWELVE, length=feet(50)))).places
    assert len(uneven) == 14
    assert uneven[-1] == feet(50)
    for at, place in enumerate(uneven):
        assert abs(place - inches(600) * at / 13) < Decimal("0.000001")


class TestToKnow:
    def test_the_hoop_against_its_posts(self) -> None:
        """155 1/2 in free, posts of 144 in: 11 1/2 in are sprung in."""
        shape = replace(house_shape(TWELVE), free_span=inches("155.5"))
        assert to_know(WorkKind.SET, shape, joined=True, units=IMPERIAL)[1] == (
            "The free hoop stands 11 1/2\" wider than its posts: 12' 11 1/2\" against 12'."
        )

    @pytest.mark.parametrize("kind", [WorkKind.JOIN, WorkKind.SET, WorkKind.SIGHT])
    def test_four_things_where_hoops_are_in_hand(self, kind: WorkKind) -> None:
        side, width, home, three = to_know(kind, house_shape(TWELVE), joined=True, units=METRIC)
        assert "at its side, never on top" in side
        assert "mm wider than its posts" in width
        assert home == "Do not drive hoops home until the ridge is sighted."
        assert three.startswith("Three people sight")
        assert all(len(words.split()) <= 18 for words in (side, width, home, three))

    def test_a_hoop_of_one_stick_has_no_joint(self) -> None:
        words = to_know(WorkKind.SET, house_shape(LOW), joined=False, units=IMPERIAL)
        assert len(words) == 3
        assert "joint" not in " ".join(words)

    def test_a_hoop_as_wide_as_its_posts_and_one_that_is_narrower(self) -> None:
        shape = house_shape(TWELVE)
        same = to_know(WorkKind.SET, replace(shape, span=shape.free_span), joined=True, units=IMPERIAL)[1]
        assert same.endswith("wide, as wide as its posts.")
        narrow = to_know(WorkKind.SET, replace(shape, span=shape.free_span + inches(1)), joined=True, units=IMPERIAL)[1]
        assert narrow.startswith('The free hoop stands 1" narrower than its posts: pull it out from ')

    def test_other_work_needs_none_of_it(self) -> None:
        for kind in set(WorkKind) - {WorkKind.JOIN, WorkKind.SET, WorkKind.SIGHT}:
            assert to_know(kind, house_shape(TWELVE), joined=True, units=IMPERIAL) == ()
