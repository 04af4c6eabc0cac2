"""On a cut list no two houses go by one name."""

from __future__ import annotations

from dataclasses import replace

from farmbuild.planning.inputs import Site
from farmbuild.planning.season.naming import ON_ORDER, common_ref, house_names, is_in_common, is_on_order, lot_name
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


def test_what_is_on_its_way_and_common_stock_go_by_names_of_their_own():
    common, coming = common_ref("Valley Farms", "L-0001"), f"{ON_ORDER}7-1 line 3"
    assert common == "common stock of Valley Farms, lot L-0001"
    assert [lot_name(ref) for ref in ("L-0001", coming, common)] == ["lot L-0001", "order 7-1 line 3", common]
    assert [(is_in_common(ref), is_on_order(ref)) for ref in ("L-0001", coming, common)] == [
        (False, False),
        (False, True),
        (True, False),
    ]
