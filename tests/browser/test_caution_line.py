"""Cautions are one line that opens, and whole on paper, opened or not."""

from __future__ import annotations

import pytest

from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS, OF_WORK

pytestmark = pytest.mark.browser

SHOWN = """() => [...document.querySelectorAll('.caution')].map(note => ({
  height: note.getBoundingClientRect().height,
  line: note.querySelector('summary').getBoundingClientRect().height,
  words: [...note.querySelectorAll('details p')].filter(p => p.checkVisibility()).map(p => p.textContent),
  right: note.querySelector('summary').getBoundingClientRect().right, width: innerWidth,
}))"""


@pytest.mark.parametrize("path, kind", [("/houses/north-field-2/", "house"), ("/hoops/", "bend")])
def test_cautions_are_one_line_that_opens_and_whole_on_paper(page_at, path, kind):
    page = page_at(390)
    page.goto(path)
    told = [caution for name, caution in CAUTIONS.items() if name in OF_WORK[kind]]
    whole = [f"Caution: {caution.about}. {caution.words}" for caution in told] + [ALWAYS]
    (note,) = page.evaluate(SHOWN)
    assert 48 <= note["line"] < 56 and note["height"] < 60, "one line, as high as a finger"
    assert note["words"] == [] and note["right"] <= note["width"]
    page.emulate_media(media="print")
    (note,) = page.evaluate(SHOWN)
    assert note["words"] == whole
    page.emulate_media(media="screen")
    page.locator(".caution summary").press("Enter")
    (note,) = page.evaluate(SHOWN)
    assert note["words"] == whole
