"""What is allowed but must be known of a house is said with its numbers, and nothing is said without need."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from farmbuild.measure import UnitSystem
from farmbuild.planning.house.checks import check_spec, spec_remarks
from farmbuild.planning.house.context import SpecProblem
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.materials import Material
from tests.planning.seasons import BY_CODE, HOUSE_TYPES, LOW, TWELVE, inches

IMPERIAL = UnitSystem.IMPERIAL


def remarks(spec: HouseSpec, *posts: Material, units: UnitSystem = IMPERIAL) -> list[SpecProblem]:
    """With other posts in the catalogue, if given."""
    materials = BY_CODE | {post.code: post for post in posts}
    assert check_spec(spec, materials, units) == []
    return spec_remarks(spec, materials, units)


def post(width: str | None, wall: str | None) -> Material:
    sizes = {"width": width and inches(width), "thickness": wall and inches(wall)}
    return replace(BY_CODE["rail-1-5-8"], **sizes)


@pytest.mark.parametrize("spec", HOUSE_TYPES)
def test_nothing_is_said_of_posts_that_fit(spec: HouseSpec) -> None:
    """1.66 less 2 x 0.065 is 1.53 in inside, 0.155 in more than a rail of 1.375 in."""
    assert not [remark for remark in remarks(spec) if remark.field == "post_material"]


@pytest.mark.parametrize(("width", "loose"), [("1.755", False), ("1.756", True)])
def test_a_hoop_with_more_than_a_quarter_inch_around_it_is_loose(width: str, loose: bool) -> None:
    """1.755 less 2 x 0.065 less 1.375 is 0.25 in."""
    found = remarks(TWELVE, post(width, "0.065"))
    assert bool([remark for remark in found if "loose" in remark.message]) == loose


def test_a_loose_post_is_told_with_its_sizes() -> None:
    """2.375 less 2 x 0.065 is 2.245 in inside, and 2.245 less 1.375 is 0.87; in mm 57.02, 34.93 and 22.10."""
    (found,) = [r for r in remarks(TWELVE, post("2.375", "0.065")) if r.field == "post_material"]
    assert all(size in found.message for size in ('2.245"', '1 3/8"', '0.870"', '1/4"'))
    (metric,) = [r for r in remarks(TWELVE, post("2.375", "0.065"), units=UnitSystem.METRIC) if "loose" in r.message]
    assert all(size in metric.message for size in ("57.0 mm", "34.9 mm", "22.1 mm", "6.4 mm"))


def test_a_hoop_over_a_thin_post_is_loose_by_its_own_bore() -> None:
    """1.375 less 2 x 0.065 is 1.245 in inside; over a post of 0.922 in the play is 0.323."""
    spec = replace(TWELVE, post_material="emt-3-4", hoop_over_post=True)
    (found,) = [r for r in remarks(spec) if r.field == "post_material"]
    assert all(size in found.message for size in ('1.245"', '0.922"', '0.323"'))


def test_a_spec_without_a_socket_depth_is_told_what_its_heights_are() -> None:
    (found,) = [r for r in remarks(TWELVE) if r.field == "post_socket_depth"]
    assert "on top of its posts" in found.message and '4" to 6"' in found.message
    assert not [r for r in remarks(replace(TWELVE, post_socket_depth=inches(6))) if r.field == "post_socket_depth"]
    assert not [r for r in remarks(LOW) if r.field == "post_socket_depth"]


@pytest.mark.parametrize(("width", "wall"), [(None, "0.065"), ("1.66", None), (None, None)])
def test_what_the_catalogue_does_not_know_is_said(width: str | None, wall: str | None) -> None:
    (found,) = [r for r in remarks(TWELVE, post(width, wall)) if r.field == "post_material"]
    assert "cannot be checked" in found.message


def test_a_house_without_posts_has_none_to_be_loose() -> None:
    spec = replace(TWELVE, post_material="", post_length=Decimal(0), post_depth=Decimal(0), front_door_count=0)
    assert not [r for r in remarks(spec) if r.field == "post_material"]
