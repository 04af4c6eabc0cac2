"""Houses drawn at random, through the project workbook: every row against what is worked out here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from farmbuild.planning.house.takeoff import take_off
from farmbuild.planning.season.snapshot import to_plain
from farmbuild.workbooks.project import ProjectProblems, project_template, read_project
from tests.outside.books import Project, fill
from tests.outside.compare import differences
from tests.outside.headings import HEADINGS
from tests.outside.houses import PROJECTS
from tests.outside.random_houses import houses
from tests.outside.takeoff import rows
from tests.size import examples

TEMPLATE = project_template()
A_BOOK = 25


def taken_off(project: Project) -> tuple[Project, dict[str, list[dict[str, Any]]]]:
    """Rows by house, without the houses that cannot be built; they are told by their row of the sheet."""
    try:
        season = read_project(fill(project, TEMPLATE, HEADINGS), "project.xlsx")
    except ProjectProblems as refused:
        first = 5  # Below title, note, headings and example.
        bad = {problem.row - first for problem in refused.problems}
        assert {problem.sheet for problem in refused.problems} == {"Houses"}, refused
        kept = {ref: house for n, (ref, house) in enumerate(project.houses.items()) if n not in bad}
        assert len(kept) < len(project.houses)
        return taken_off(replace(project, houses=kept)) if kept else (replace(project, houses={}), {})
    materials = {material.code: material for material in season.materials}
    return project, {
        house.ref: [to_plain(row) for row in take_off(house, materials, season.buyer.units)] for house in season.houses
    }


@pytest.mark.parametrize("name", PROJECTS)
def test_every_row_of_houses_at_random(name: str) -> None:
    base = replace(PROJECTS[name], offers={}, stock={}, suppliers={}, own={})
    tried, built = 0, 0

    # A failure names its house; to shrink a book of houses would take minutes.
    @settings(examples(4), phases=[Phase.explicit, Phase.generate])
    @given(st.lists(houses(base), min_size=A_BOOK, max_size=A_BOOK))
    def try_houses(drawn: list[Mapping[str, str]]) -> None:
        nonlocal tried, built
        project, given_rows = taken_off(replace(base, houses={f"house {n}": house for n, house in enumerate(drawn)}))
        tried, built = tried + len(drawn), built + len(given_rows)
        for ref, found in given_rows.items():
            assert differences(rows(project.house(ref)), found) == [], project.houses[ref]

    try_houses()
    assert built > tried / 4, "most of the houses drawn should be such as can be built"
