"""Seasons and plans as JSON and back, their digests, and what changed between two."""

from __future__ import annotations

import copy
import hashlib
import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.measure import UnitSystem
from farmbuild.planning.inputs import Lot
from farmbuild.planning.season.plan import plan_season
from farmbuild.planning.season.snapshot import (
    SnapshotError,
    canonical,
    changes,
    decimal_text,
    digest,
    plan_from_json,
    plan_to_json,
    season_from_json,
    season_to_json,
)
from tests.planning.seasons import LOW, TWELVE, TWENTY, big_season, feet, house, inches, season

GIVEN = season(
    house("a", TWELVE),
    house("b", TWENTY, site="creek"),
    lots=(Lot("L1", "rail-1-3-8", feet(10), 12, Decimal("12.90"), "Ställ 2 ⚒", site="north"),),
)


def test_season_there_and_back() -> None:
    text = json.dumps(season_to_json(GIVEN))
    assert season_from_json(json.loads(text)) == GIVEN


def test_plan_there_and_back() -> None:
    plan = plan_season(big_season(4, lots=60), ended=lambda: True)
    text = json.dumps(plan_to_json(plan))
    back = plan_from_json(json.loads(text))
    assert back == plan
    assert digest(back) == digest(plan) == digest(json.loads(text))


def test_digest_is_sha256_of_sorted_json_without_spaces() -> None:
    data = season_to_json(GIVEN)
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert canonical(GIVEN) == text
    assert digest(GIVEN) == hashlib.sha256(text.encode()).hexdigest()


def test_equal_numbers_have_equal_text() -> None:
    fine = replace(GIVEN, kerf=GIVEN.kerf.quantize(Decimal("0.000001")))
    assert digest(fine) == digest(GIVEN)
    assert digest(replace(GIVEN, kerf=GIVEN.kerf + Decimal("0.000001"))) != digest(GIVEN)


@given(st.decimals(min_value=-(10**12), max_value=10**12, places=6))
def test_decimals_come_back(value: Decimal) -> None:
    text = decimal_text(value)
    assert Decimal(text) == value
    assert "E" not in text
    assert text == decimal_text(value * 10 / 10)


def test_dates_and_decimals_are_strings() -> None:
    data = season_to_json(GIVEN)["season"]
    assert data["as_of"] == "2027-02-01"
    assert data["kerf"] == "3.175"
    assert data["buyer"]["units"] == "imperial"
    assert data["lots"][0]["place"] == "Ställ 2 ⚒"


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("kerf",), "wide", "kerf"),
        (("kerf",), 3, "kerf"),
        (("as_of",), "yesterday", "as_of"),
        (("lots", 0, "quantity"), "12", r"lots\[0\]\.quantity"),
        (("lots", 0, "offcut"), 1, "offcut"),
        (("materials", 0, "kind"), "cheese", "kind"),
        (("houses",), {}, "houses"),
        (("houses", 0, "spec"), None, "spec"),
        (("colour",), "red", "colour"),
    ],
)
def test_spoilt_json_says_where(path: tuple[str | int, ...], value: object, words: str) -> None:
    data = copy.deepcopy(season_to_json(GIVEN))
    inner = data["season"]
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    with pytest.raises(SnapshotError, match=words):
        season_from_json(data)


def test_missing_field_and_no_season() -> None:
    data = season_to_json(GIVEN)
    with pytest.raises(SnapshotError, match="plan"):
        plan_from_json(data)
    for version in (0, -1, "2", None, True, 1.0):
        with pytest.raises(SnapshotError, match="no season"):
            season_from_json({**data, "version": version})
    for spoilt in ({"houses": 3}, {"houses": [None]}, {}):
        with pytest.raises(SnapshotError, match="no season of version 1"):
            season_from_json({"version": 1, "season": spoilt})
    del data["season"]["kerf"]
    with pytest.raises(SnapshotError, match="'kerf' is missing"):
        season_from_json(data)


def test_nothing_changed() -> None:
    assert changes(GIVEN, season_from_json(season_to_json(GIVEN))) == []


def test_changes_are_sentences() -> None:
    a, _ = GIVEN.houses
    longer = replace(a.spec, length=feet(60), recipe=replace(a.spec.recipe, radius=inches(80)))
    new = replace(
        GIVEN,
        kerf=Decimal(2),
        houses=(replace(a, spec=longer, need_date=date(2027, 4, 6)), house("c", LOW)),
        lots=(replace(GIVEN.lots[0], quantity=10, unit_cost=Decimal("13.00")),),
        offers=GIVEN.offers[1:],
        materials=(replace(GIVEN.materials[0], name="top rail"), *GIVEN.materials[1:]),
    )
    assert changes(GIVEN, new) == [
        'Settings: kerf was 1/8", is 1/16".',
        "House House c is new.",
        "House House b is gone.",
        "House House a: need date was 5 April 2027, is 6 April 2027; length was 48', is 60';"
        " recipe radius was 6' 6\", is 6' 8\".",
        "Lot L1: quantity was 12, is 10; unit cost was 12.9, is 13.",
        "Offer of 1-3/8 top rail 10' from Invented Pipe is gone.",
        "Material top rail: name was 1-3/8 top rail, is top rail.",
    ]


def test_a_change_too_small_to_show_is_said_in_full() -> None:
    (sentence,) = changes(GIVEN, replace(GIVEN, kerf=GIVEN.kerf + Decimal("0.01")))
    assert "3.1750 mm" in sentence
    assert "3.1850 mm" in sentence


def test_a_small_change_and_the_units_read_plainly_in_metric_too() -> None:
    metric = replace(GIVEN, buyer=replace(GIVEN.buyer, units=UnitSystem.METRIC))
    a, b = GIVEN.houses
    new = replace(metric, houses=(replace(a, spec=replace(a.spec, length=Decimal("14630.000000"))), b))
    units, length = changes(GIVEN, new)
    assert units == "Settings: buyer units was feet and inches, is metres and millimetres."
    assert length == "House House a: length was 14\u202f630.4 mm, is 14\u202f630 mm."


def test_many_changes_are_counted() -> None:
    a, b = GIVEN.houses
    new = replace(GIVEN, houses=(replace(a, spec=LOW), b))
    (sentence,) = changes(GIVEN, new)
    assert sentence.startswith("House House a: ")
    assert " more." in sentence
