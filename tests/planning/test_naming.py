"""On a cut list no two houses go by one name."""

from __future__ import annotations

from dataclasses import replace

from farmbuild.planning.inputs import Site
from farmbuild.planning.season.naming import house_names
from tests.planning.seasons import big_season


def _named(*rows: tuple[str, str]):
    """A season whose houses have these names and sites."""
    season = big_season(len(rows))
    houses = [
        replace(house, ref=f"h{n}", name=name, site=site)
        for n, (house, (name, site)) in enumerate(zip(season.houses, rows, strict=True))
    ]
    return replace(season, houses=tuple(houses), sites=(Site("up", "Upper Field"), Site("low", "Lower Field")))


def test_a_name_of_its_own_stays_as_it_is():
    assert house_names(_named(("House 1", "up"), ("House 2", "low"))) == {"h0": "House 1", "h1": "House 2"}


def test_houses_of_one_name_say_their_site():
    names = house_names(_named(("House 1", "up"), ("House 1", "low"), ("House 2", "up")))
    assert names == {"h0": "House 1, Upper Field", "h1": "House 1, Lower Field", "h2": "House 2"}


def test_houses_of_one_name_on_one_site_say_their_ref():
    names = house_names(_named(("House 1", "up"), ("House 1", "up"), ("House 1", "low")))
    assert names == {"h0": "House 1, Upper Field, h0", "h1": "House 1, Upper Field, h1", "h2": "House 1, Lower Field"}
