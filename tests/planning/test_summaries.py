"""What is folded in the form of a house, in one line a section."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.fields import sections
from farmbuild.planning.house.spec import HouseSpec, SideClosing
from farmbuild.planning.house.summaries import section_words
from tests.planning.seasons import BY_CODE, TWENTY

BARE = HouseSpec(TWENTY.post_span, TWENTY.length, TWENTY.spacing_wanted, TWENTY.recipe)


def said(spec: HouseSpec, units: UnitSystem = UnitSystem.IMPERIAL) -> dict[str, str]:
    return section_words(spec, BY_CODE, units)


def test_every_section_but_the_open_one_has_a_line():
    assert set(said(TWENTY)) == set(sections()) - {"Size and hoops"}


@pytest.mark.parametrize("units", list(UnitSystem))
def test_of_a_house_that_has_nothing_every_line_says_none(units):
    assert set(said(BARE, units).values()) == {"none"}


@pytest.mark.parametrize(
    ("section", "typed", "words"),
    [
        ("Ground posts", {"post_material": "emt-3-4", "post_length": Decimal("609.6")}, "3/4 EMT conduit, 2' long"),
        (
            "Hip and base boards",
            {"hip_board_rows": 1, "hip_board_lengths": (Decimal("2438.4"), Decimal("3657.6"), Decimal("4876.8"))},
            "hip boards: no board chosen, 8', 12' or 16'",
        ),
        ("Hip and base boards", {"base_board_rows": 2}, "base boards: 2 rows, no board chosen"),
        ("Purlins", {"side_purlins": 2}, "2 side purlins: no tube chosen"),
        ("Purlins", {"ridge_purlins": 1}, "1 ridge purlin: no tube chosen"),
        ("End walls and doors", {"front_door_count": 2}, "2 front doors"),
        ("End walls and doors", {"end_walls": 1}, "1 framed wall: no frame chosen"),
        ("Corner braces", {"brace_count": 4, "brace_length": Decimal("1828.8")}, "4: no material chosen, 6'"),
        ("Film", {"film_layers": 1}, "nothing to spare"),
        ("Film", {"film_layers": 1, "film_end_allowance": Decimal("609.6")}, "2' at each end to spare"),
        ("Sides", {"film_layers": 1, "side_closing": SideClosing.OPEN}, "left open on purpose"),
        (
            "Fixing channel",
            {"channel_runs": 2, "channel_on_ends": True},
            "no channel chosen, 2 runs along the house and over the end hoops",
        ),
        ("Anchors", {"anchor_count": 1200}, "1,200: no anchor chosen"),
    ],
)
def test_a_line_says_what_is_typed_whether_or_not_it_can_be_built(section, typed, words):
    assert said(replace(BARE, **typed))[section] == words


def test_every_way_in_which_sides_close_has_words():
    for closing in SideClosing:
        assert said(replace(BARE, film_layers=1, side_closing=closing))["Sides"] != "none"


def test_more_fittings_than_a_line_holds_are_counted():
    some = replace(BARE, hinge_material="a", door_stop_material="b", fan_material="c", hose_material="d")
    assert said(some)["Fittings"].endswith(" and 1 more")
