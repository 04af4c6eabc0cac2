"""Four odd houses in each unit system: what the command gives, against all of it worked out a second time."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.outside.__main__ import main
from tests.outside.books import Project, order_files, read
from tests.outside.cuts import cut_problems, stick_problems
from tests.outside.headings import HEADINGS
from tests.outside.houses import PROJECTS
from tests.outside.orders import buying_problems, included
from tests.outside.plans import plan_of
from tests.outside.takeoff import plan_differences
from tests.outside.typed import coins
from tests.workbooks.books import recalculated


@pytest.fixture(params=PROJECTS)
def season(request) -> tuple[Project, dict[str, Any], Path]:
    return plan_of(request.param)


def test_every_row_of_the_take_off(season) -> None:
    project, plan, _ = season
    for ref in project.houses:
        given = [row for row in plan["takeoff"] if row["house"] == ref]
        assert given
        assert plan_differences(project.house(ref), given) == []
    assert {row["house"] for row in plan["takeoff"]} == set(project.houses)


def test_every_piece_is_cut_and_every_stick_holds_its_pieces(season) -> None:
    project, plan, _ = season
    assert plan["layouts"]
    assert stick_problems(project, plan) == []
    assert cut_problems(project, plan) == []


def test_the_orders_cover_all_and_come_to_what_they_say(season) -> None:
    project, plan, _ = season
    assert {order["supplier"] for order in plan["orders"]} == set(project.suppliers)
    assert buying_problems(project, plan) == []
    assert plan["unmet"] == []


def test_the_script_says_that_nothing_disagrees(season, capsys) -> None:
    project, _, folder = season
    filled = folder / "project.xlsx"
    again = read(filled.read_bytes(), HEADINGS)
    assert again.houses.keys() == project.houses.keys()
    assert again.house("all").typed == {name: typed for name, typed in project.houses["all"].items() if typed}
    assert main(str(filled), str(folder / "out")) == 0
    assert capsys.readouterr().out.endswith("no disagreement(s)\n")


@pytest.mark.office
def test_a_spreadsheet_program_works_the_orders_out_the_same(season, tmp_path) -> None:
    project, plan, folder = season
    files = order_files(folder)
    assert len(files) == len(plan["orders"]) > 1
    totals = {order["supplier"]: order for order in plan["orders"]}
    for at, (path, code) in enumerate(zip(files, sorted(totals), strict=True)):
        (tmp_path / str(at)).mkdir()
        sheet = recalculated(path.read_bytes(), tmp_path / str(at))["Order"]
        names = {project.suppliers[code]["name"]}
        assert names <= {cell.value for row in sheet.iter_rows(max_row=7) for cell in row}
        assert sums_of(sheet) == {
            "Goods": Decimal(totals[code]["goods"]),
            "Delivery": Decimal(totals[code]["delivery"]),
            "Sales tax in it" if included(project) else "Sales tax": Decimal(totals[code]["tax"]),
            "Total": Decimal(totals[code]["total"]),
        }


def sums_of(sheet: Any) -> dict[str, Decimal]:
    """What stands beside each label below the lines."""
    labels = ("Goods", "Delivery", "Sales tax", "Sales tax in it", "Total")
    return {
        row[8].value: coins(Decimal(repr(row[10].value)))
        for row in sheet.iter_rows(min_row=9, max_col=11)
        if row[8].value in labels
    }
