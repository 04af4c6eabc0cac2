"""Seasons and plans that earlier versions stored read as they were meant, and what is newer says that it is."""

from __future__ import annotations

import copy
import json
from dataclasses import MISSING, fields, replace
from decimal import Decimal
from typing import Any

import pytest

from farmbuild.planning.house.spec import HouseSpec, SideClosing
from farmbuild.planning.season.changes import changes
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.season.snapshot import (
    VERSION,
    NewerVersion,
    SnapshotError,
    digest,
    plan_from_json,
    plan_to_json,
    season_from_json,
    season_to_json,
)
from tests.planning.seasons import LOW, TWELVE, TWENTY, feet, house, season
from tests.planning.stored.versions import as_version_1, demo_season_v1

OPTIONAL: dict[str, Any] = {row.name: row.default for row in fields(HouseSpec) if row.default is not MISSING}
DOORS = {f"{end}_door_{part}" for end in ("front", "back") for part in ("count", "width", "height")}


def test_digests_of_what_is_stored_still_verify() -> None:
    stored = demo_season_v1()
    assert digest(stored["inputs"]) == stored["inputs_digest"]
    assert digest(stored["result"]) == stored["result_digest"]
    before = copy.deepcopy(stored)
    season_from_json(stored["inputs"])
    plan_from_json(stored["result"])
    assert stored == before


def test_version_1_of_the_demo_season_reads_to_the_same_values() -> None:
    """Put back by hand into the form of version 1, what was read is the stored text to the letter."""
    stored = demo_season_v1()
    read = season_to_json(season_from_json(stored["inputs"]))
    assert read["version"] == VERSION > 1
    was = {row["ref"]: row["spec"] for row in stored["inputs"]["season"]["houses"]}
    for row in read["season"]["houses"]:
        spec = row["spec"]
        old = was[row["ref"]]
        for end in ("front", "back"):
            for part in ("count", "width", "height"):
                assert spec[f"{end}_door_{part}"] == old[f"{end}_doors"][part]
    assert any(spec["front_doors"]["count"] for spec in was.values())
    assert digest(as_version_1(read)) == stored["inputs_digest"]
    assert digest(as_version_1(plan_to_json(plan_from_json(stored["result"])), "plan")) == stored["result_digest"]


def test_what_is_added_later_reads_as_its_default() -> None:
    stored = demo_season_v1()["inputs"]
    added = set(OPTIONAL) - DOORS - {"side_closing"} - set(stored["season"]["houses"][0]["spec"])
    for row in season_from_json(stored).houses:
        assert all(getattr(row.spec, name) == OPTIONAL[name] for name in added)


def test_sides_that_were_open_before_it_was_asked_read_as_open() -> None:
    """In the demo of version 1 the posts of 12 ft houses stand 24 in out with 24 in of film to spare, those of 20 ft
    houses 42 in with 16, and those of tunnels 6 in with 12."""
    found = {row.ref: row.spec.side_closing for row in season_from_json(demo_season_v1()["inputs"]).houses}
    assert {ref for ref, closing in found.items() if closing == "open"} == {"creek-bottom-1", "creek-bottom-2"}
    assert len(found) == 8 and set(found.values()) == {"open", "buried"}


@pytest.mark.parametrize(
    ("spec", "closing"),
    [
        (replace(TWELVE, film_side_allowance=feet(2)), "buried"),
        (replace(TWELVE, film_side_allowance=feet(2) - Decimal("0.000001")), "open"),
        (replace(TWELVE, film_side_allowance=feet(1), post_socket_depth=feet(1)), "buried"),
        (replace(TWELVE, film_side_allowance=feet(1), film_layers=0), "buried"),
        (replace(LOW, film_side_allowance=feet(0)), "buried"),
    ],
)
def test_version_2_did_not_ask_how_sides_close(spec: HouseSpec, closing: str) -> None:
    data = season_to_json(season(house("a", spec)))
    del data["season"]["houses"][0]["spec"]["side_closing"]
    (read,) = season_from_json(data | {"version": 2}).houses
    assert read.spec == replace(spec, side_closing=SideClosing(closing))


def test_version_3_parted_thousands_of_millimetres_by_a_comma() -> None:
    def plan(version: int, words: str) -> dict[str, Any]:
        data = plan_to_json(plan_season(season(house("a", TWELVE))))
        data["plan"]["takeoff"][0]["working"] = words
        return data | {"version": version}

    was, now = "1,234,567 mm of 3,900.5 mm; 1,200 hoops", "1\u202f234\u202f567 mm of 3\u202f900.5 mm; 1,200 hoops"
    assert plan_from_json(plan(3, was)).takeoff[0].working == now
    # Three decimals of a later version, with a decimal comma.
    assert plan_from_json(plan(4, "0,125 mm")).takeoff[0].working == "0,125 mm"


@pytest.mark.parametrize("name", OPTIONAL)
def test_a_season_stored_before_a_field_was_added_is_no_change(name: str) -> None:
    """Whatever field of a spec is taken as the new one: what was stored without it is the same season."""
    now = season(house("a", replace(LOW, **{name: OPTIONAL[name]})))
    data = season_to_json(now)
    del data["season"]["houses"][0]["spec"][name]
    read = season_from_json(data)
    assert read == now
    assert changes(read, now) == []


def test_version_1_of_any_house_is_the_same_season() -> None:
    now = season(house("a", TWELVE), house("b", TWENTY), house("c", LOW))
    old = json.loads(json.dumps(as_version_1(season_to_json(now))))
    assert "front_doors" in old["season"]["houses"][0]["spec"]
    assert digest(old) != digest(now)
    assert season_from_json(old) == now
    assert changes(season_from_json(old), now) == []


@pytest.mark.parametrize("kind", ["season", "plan"])
def test_a_newer_version_says_that_it_is_newer(kind: str) -> None:
    data: dict[str, Any] = {"version": VERSION + 1, kind: {"anything": 1}}
    read = season_from_json if kind == "season" else plan_from_json
    words = rf"made by a newer version of the program.*version {VERSION + 1}.*up to version {VERSION}"
    with pytest.raises(NewerVersion, match=words):
        read(data)


def test_a_field_of_a_newer_version_says_that_it_is_newer() -> None:
    data = season_to_json(season(house("a", TWELVE)))
    data["season"]["houses"][0]["spec"]["heating"] = "2"
    words = r"houses\[0\]\.spec: the field 'heating' is unknown here\. This was made by a newer version"
    with pytest.raises(NewerVersion, match=words):
        season_from_json(data)
    assert issubclass(NewerVersion, SnapshotError)
