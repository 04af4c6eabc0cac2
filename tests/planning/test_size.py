"""One plan takes so many hoops and pieces, said with the number, and not one more."""

from __future__ import annotations

import pytest

from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.season import size
from farmbuild.planning.season.plan import SeasonError, plan_season
from tests.planning.seasons import BY_CODE, HOUSE_TYPES, house, season

SEASON = season(house("H1", HOUSE_TYPES[0]), house("H2", HOUSE_TYPES[1]))
HOOPS = sum(-(-one.spec.length // one.spec.spacing_wanted) + 1 for one in SEASON.houses)
PIECES = sum(row.quantity for one in SEASON.houses for row in take_off(one, BY_CODE, SEASON.buyer.units) if row.length)


@pytest.mark.parametrize(("name", "have", "words"), [("MAX_HOOPS", HOOPS, "hoops"), ("MAX_PIECES", PIECES, "sticks")])
def test_what_reaches_the_bound_is_planned_and_what_passes_it_is_refused(monkeypatch, name, have, words):
    monkeypatch.setattr(size, name, int(have))
    assert size.why_too_large(SEASON) == ""
    assert plan_season(SEASON).takeoff
    monkeypatch.setattr(size, name, int(have) - 1)
    said = size.why_too_large(SEASON)
    assert f"These houses have {have} {words}" in said
    assert f"at most {have - 1} hoops" in said or f"{have - 1} sticks and pieces. Plan them in parts" in said
    with pytest.raises(SeasonError) as refused:
        plan_season(SEASON)
    assert refused.value.reasons == (said,)


def test_no_house_that_may_be_typed_is_too_large_by_itself():
    from farmbuild.planning.house.parts.hoops import MAX_HOOPS

    assert MAX_HOOPS <= size.MAX_HOOPS
