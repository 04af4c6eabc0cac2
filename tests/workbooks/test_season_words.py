"""What a reader of the workbooks takes names and empty cells to mean."""

from __future__ import annotations

import io
from dataclasses import replace
from decimal import Decimal

from openpyxl import load_workbook

from farmbuild.planning.season.plan import plan_season
from farmbuild.workbooks import project_layout as layout
from farmbuild.workbooks.cut_lists import cut_list_workbook
from farmbuild.workbooks.leftovers import leftovers_workbook
from farmbuild.workbooks.project_read import read_project
from farmbuild.workbooks.project_write import write_project
from tests.workbooks.books import small_plan, small_season


def test_houses_of_one_name_are_told_apart_on_the_cut_list() -> None:
    season = small_season()
    season = replace(season, houses=tuple(replace(house, name="House 1") for house in season.houses[:2]))
    book = load_workbook(io.BytesIO(cut_list_workbook(season=season, plan=plan_season(season))))
    head, *rows = book["Cuts"].iter_rows(min_row=3, values_only=True)
    at = head.index("For")
    said = {row[at].split(": ")[0] for row in rows if row[at]}
    names = {site.code: site.name for site in season.sites}
    assert said - {"offcut"} == {f"House 1, {names[house.site]}" for house in season.houses}


def test_leftovers_lie_at_sites_by_name() -> None:
    season = small_season()
    book = load_workbook(io.BytesIO(leftovers_workbook(season=season, plan=small_plan())))
    places = {row[5] for row in book["Leftovers"].iter_rows(min_row=4, values_only=True)} - {None}
    assert places & {site.name for site in season.sites}
    assert not places & {site.code for site in season.sites}


def test_an_empty_saw_cut_and_shortest_offcut_mean_what_their_notes_say() -> None:
    season = replace(small_season(), kerf=Decimal(1), keep_from=Decimal(1))
    book = load_workbook(io.BytesIO(write_project(season)))
    rows = {field.name: at for at, field in enumerate(layout.PROJECT, layout.HEADING_ROW + 1)}
    for name in ("kerf", "keep_from"):
        book["Project"].cell(rows[name], 2).value = None
    out = io.BytesIO()
    book.save(out)
    read = read_project(out.getvalue(), "season.xlsx")
    assert (read.kerf, read.keep_from) == (Decimal("25.4") / 8, Decimal("304.8") * 2)
    assert 'Empty: 1/8"' in book["Project"].cell(rows["kerf"], 4).value
    assert "Empty: 2'" in book["Project"].cell(rows["keep_from"], 4).value
    assert read_project(write_project(replace(season, kerf=Decimal(0))), "season.xlsx").kerf == 0
