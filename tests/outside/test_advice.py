"""Each saving that is told, typed into the workbook of the season and worked out a second time."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from farmbuild.measure import format_length
from farmbuild.planning.advice.changes import BY_FIELD
from farmbuild.planning.advice.proof import savings
from farmbuild.planning.season.plan import plan_season
from farmbuild.workbooks.project import read_project
from tests.outside.__main__ import disagreements
from tests.outside.books import planned
from tests.outside.headings import HEADINGS
from tests.outside.houses import FEET_TUNNEL, PROJECTS

#: 3 braces of 32 in do not come from 8 ft; of 31 7/8 in, with two cuts of 1/8 in, they do.
BRACED = FEET_TUNNEL | {"brace_material": "2x4", "brace_count": "60", "brace_length": '32"'}
#: Savings that are typed in again.
MOST = 3


def total(plan: dict[str, Any]) -> Decimal:
    return sum((Decimal(order["total"]) for order in plan["orders"]), Decimal(0))


def test_a_saving_is_there_when_it_is_typed_in(tmp_path: Path) -> None:
    base = PROJECTS["feet"]
    project = replace(base, houses={"tunnel": FEET_TUNNEL, "braced": BRACED}, stock={}, own={})
    before = tmp_path / "before"
    before.mkdir()
    plan = planned(project, HEADINGS, before)
    season = read_project((before / "project.xlsx").read_bytes(), "project.xlsx")
    found = savings(season, plan_season(season))
    braces = [one for one in found if one.change.field == "brace_length"]
    assert braces and braces[0].change.new == Decimal("31.875") * Decimal("25.4")
    for n, saving in enumerate(found[:MOST]):
        change = saving.change
        houses = dict(project.houses)
        for ref in change.houses:
            spec = next(house.spec for house in season.houses if house.ref == ref)
            typed = {change.field: format_length(change.new, season.buyer.units)}
            for along in BY_FIELD[change.field].along:
                if was := getattr(spec, along):
                    typed[along] = format_length(was + change.new - change.old, season.buyer.units)
            houses[ref] = houses[ref] | typed
        folder = tmp_path / str(n)
        folder.mkdir()
        again = replace(project, houses=houses)
        after = planned(again, HEADINGS, folder)
        assert disagreements(again, after) == []
        assert total(plan) - total(after) == saving.saved
