"""Houses drawn at random: every view of each that can be built is made, fits its paper and is a sound DXF file."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO

import ezdxf
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from farmbuild.drawings.bridge import Facts
from farmbuild.drawings.drawing_set import DrawingSet
from farmbuild.drawings.drawn.along import along
from farmbuild.drawings.drawn.ends import ends
from farmbuild.drawings.drawn.hoop import bent_hoop, stick
from farmbuild.drawings.drawn.joints import joints
from farmbuild.drawings.drawn.section import section
from farmbuild.drawings.dxf import set_dxf
from farmbuild.drawings.scales import paper_for
from farmbuild.drawings.sheets import Block, Page, finished
from farmbuild.planning.house.context import house_context
from farmbuild.planning.house.drawn import drawn_house
from farmbuild.planning.house.shape import bend_recipe
from farmbuild.workbooks.project import ProjectProblems, project_template, read_project
from tests.drawings.test_words_on_sheets import box_of, drawn_on
from tests.outside.books import fill
from tests.outside.headings import HEADINGS
from tests.outside.houses import PROJECTS
from tests.outside.random_houses import houses
from tests.size import examples

TEMPLATE = project_template()
_BLOCK = Block("house", "site", "farm", "today", "00000000", "mm", [("About", "words")])


def readable(project):
    """The season of the houses that can be built; None where none can."""
    while project.houses:
        try:
            return read_project(fill(project, TEMPLATE, HEADINGS), "project.xlsx")
        except ProjectProblems as refused:
            bad = {problem.row - 5 for problem in refused.problems}
            kept = {ref: house for n, (ref, house) in enumerate(project.houses.items()) if n not in bad}
            project = replace(project, houses=kept)
    return None


def drawn(house, season) -> Facts:
    materials = {material.code: material for material in season.materials}
    context = house_context(house.spec, materials, season.buyer.units, house.ref)
    return Facts(
        name=house.name,
        units=season.buyer.units,
        spec=house.spec,
        drawn=drawn_house(context),
        bend=bend_recipe(house.spec.recipe),
        materials=materials,
        diagonal=house.spec.length,
        rows=(),
        notes={},
        version="",
    )


@pytest.mark.parametrize("name", PROJECTS)
def test_every_view_of_houses_at_random(name):
    base = replace(PROJECTS[name], offers={}, stock={}, suppliers={}, own={})
    tried = []

    @settings(examples(2), phases=[Phase.explicit, Phase.generate])
    @given(st.lists(houses(base), min_size=12, max_size=12))
    def try_houses(found):
        season = readable(replace(base, houses={f"house {n}": house for n, house in enumerate(found)}))
        for house in season.houses if season else ():
            facts = drawn(house, season)
            paper = paper_for(facts.units)
            pages = []
            for view in (section(facts), along(facts), *ends(facts), bent_hoop(facts), stick(facts), *joints(facts)):
                page = Page(view.name, facts.units)
                page.put([view], [paper.inside])
                pages.append(page)
            found_set = DrawingSet(house.name, paper, tuple(finished(pages, paper, _BLOCK)))
            for sheet in found_set.sheets:
                for words in drawn_on(sheet)[1]:
                    left, low, right, high = box_of(words)
                    inside = left >= 20 and low >= 10 and right <= paper.wide - 10 and high <= paper.high - 10
                    assert inside, (sheet.title, words.text, house.spec)
            audit = ezdxf.read(StringIO(set_dxf(found_set).decode())).audit()
            assert not audit.errors and not audit.fixes
            tried.append(house.name)

    try_houses()
    assert len(tried) > 6
