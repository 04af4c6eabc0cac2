"""The take-off by groups of parts, each with the house in which that group is heavy."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
from django.urls import reverse

from farmbuild.planning.house.parts import GROUPS, PARTS
from farmbuild.sites.bridge import drawn_of
from farmbuild.sites.lit_drawings import DRAWN, LitDrawing
from farmbuild.sites.services import create_house, prepare_starter
from farmbuild.sites.starters import starter_named
from tests.factories import SiteFactory
from tests.reading import text_of

LIT = re.compile(r'class="lit"')


@pytest.fixture
def house(organisation, user):
    """The 12 ft starter, with everything that a house may have."""
    site = SiteFactory(organisation=organisation)
    values = prepare_starter(organisation=organisation, user=user, starter=starter_named("12-ft-house"))
    return create_house(
        organisation=organisation, user=user, site=site, name="Ash", need_date=date(2027, 5, 3), data=values
    )


def test_every_part_is_in_one_group():
    grouped = [part for group in GROUPS for part in group.parts]
    assert len(grouped) == len(PARTS) == len({id(part) for part in grouped})
    assert {id(part) for part in grouped} == {id(part) for part in PARTS}


def test_every_purpose_is_of_one_group():
    purposes = [purpose for part in PARTS for purpose in part.purposes]
    assert {purpose: sum(group.takes(purpose) for group in GROUPS) for purpose in purposes} == dict.fromkeys(
        purposes, 1
    )


@pytest.mark.django_db
def test_the_page_has_every_row_once_under_its_group(signed_in, house):
    answer = signed_in.get(reverse("sites:takeoff", args=[house.slug]))
    page = answer.context["takeoff"]
    grouped = [row for group in page.groups for row in group.rows]
    assert len(grouped) == len(page.rows) > 15
    assert all(row in grouped for row in page.rows)
    said = text_of(answer)
    places = [said.index(group.name) for group in page.groups]
    assert places == sorted(places)
    assert len(places) > 4


@pytest.mark.django_db
def test_each_group_is_heavy_in_its_own_drawing_alone(signed_in, house):
    page = signed_in.get(reverse("sites:takeoff", args=[house.slug])).context["takeoff"]
    drawn = {group.key: str(group.drawing) for group in page.groups if group.key in DRAWN}
    assert set(drawn) >= {"hoops", "posts", "purlins", "ends", "fixings"}
    for key, svg in drawn.items():
        assert LIT.search(svg), key
        assert f"{house.name}: " in svg
    assert len(set(drawn.values())) == len(drawn)


@pytest.mark.django_db
def test_what_a_house_has_not_is_in_no_drawing(house):
    drawn = replace(drawn_of(house, "imperial"), post_outside=None, purlins=(), boards=(), end_walls=(), sides=None)
    lit = {key: bool(LIT.search(LitDrawing(drawn, "Shed", key, key).svg())) for key in DRAWN}
    assert lit == {
        "hoops": True, "posts": False, "purlins": False, "ends": False, "film": False, "fixings": True,
    }  # fmt: skip
