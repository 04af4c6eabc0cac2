"""Strips of the cut plan in a browser: letters that never touch, to scale at any width, fifteen on a sheet of paper."""

from __future__ import annotations

import re
import shutil
import subprocess
from math import ceil

import pytest

from tests.browser.reading import at
from tests.conftest import NOTHING_MISSING

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

#: Texts of one strip that lie over one another, and those of a piece that are wider than it.
COLLISIONS = """
() => [...document.querySelectorAll("svg.strip")].flatMap((svg) => {
  const seen = [...svg.querySelectorAll("text")].filter((text) => getComputedStyle(text).display !== "none");
  const boxes = seen.map((text) => [text.textContent, text.getBoundingClientRect()]);
  const faults = [];
  boxes.forEach(([words, a], at) => boxes.slice(at + 1).forEach(([other, b]) => {
    const level = a.top < b.bottom - 1 && b.top < a.bottom - 1;
    if (level && a.left < b.right && b.left < a.right) faults.push(`${words} | ${other}`);
  }));
  const bars = [...svg.querySelectorAll("rect")].map((rect) => rect.getBoundingClientRect());
  for (const [words, box] of boxes.slice(0, boxes.length - seen.filter((text) => text.matches(".at")).length))
    if (!bars.some((bar) => bar.left <= box.left && box.right <= bar.right)) faults.push(`${words} is too wide`);
  return faults;
})
"""
#: Of each strip: its width, and of each bar the share that it is drawn in and the share that it has.
BARS = """
() => [...document.querySelectorAll("svg.strip")].filter((svg) => svg.getClientRects().length).flatMap((svg) => {
  const whole = svg.getBoundingClientRect();
  return [...svg.querySelectorAll("rect")].map((rect) => {
    const box = rect.getBBox();
    return [box.width / whole.width * 100, parseFloat(rect.getAttribute("width"))];
  });
})
"""


@pytest.mark.parametrize("address", ["/plans/1/cutting/", "/plans/1/cutting/?by=house", "/plans/1/leftovers/"])
def test_no_text_touches_another_and_all_is_to_scale(page_at, address):
    page = page_at(320)
    page.goto(address)
    for width in (320, 390, 820, 1440):
        at(page, width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.evaluate(COLLISIONS) == []
        bars = page.evaluate(BARS)
        assert len(bars) > 12
        assert all(abs(drawn - share) < 0.05 for drawn, share in bars)
        # In the bars of a very narrow phone nothing fits; the words are beside them.
        assert page.locator("svg.strip text:visible").count() > (5 if width > 320 else -1)
    page.emulate_media(media="print")
    assert page.evaluate(COLLISIONS) == []


def test_a_phone_has_five_screens_at_most_and_boxes_for_a_glove(page_at):
    page = page_at(390)
    cutting = [f"/plans/1/cutting/?{query}" for query in ("by=house", "page=5", "")]
    for address in ("/hoops/hoop-20-ft/", "/plans/1/leftovers/", *cutting):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollHeight") <= 5 * 844, address
    boxes = page.locator(".cut-strip > .boxes input")
    assert all(box.bounding_box()["height"] >= 36 for box in boxes.all() if box.is_visible())


def test_bars_of_leftovers_have_one_width_for_one_length(page_at):
    page = page_at(390)
    page.goto("/plans/1/leftovers/")
    for width in (390, 1440):
        at(page, width)
        places = page.locator(".left-bar .strip-place")
        assert len({round(place.bounding_box()["width"]) for place in places.all()}) == 1


def test_a_tick_by_material_is_a_tick_by_house(page_at):
    page = page_at(1440)
    page.goto("/plans/1/cutting/")
    box = page.locator(".cut-strip > .boxes input").first
    kept = box.get_attribute("data-tick")
    box.check()
    page.goto("/plans/1/cutting/?by=house")
    same = page.locator(f'input[data-tick="{kept}"]')
    assert same.count() >= 1
    assert all(each.is_checked() for each in same.all())


@pytest.mark.skipif(not shutil.which("pdfinfo") and not NOTHING_MISSING, reason="needs pdfinfo: poppler-utils")
@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_fifteen_layouts_a_sheet(page_at, tmp_path, paper):
    page = page_at(1440)
    page.goto("/plans/1/cutting/")
    strips = page.locator("section.cut-strip").count()
    page.pdf(path=tmp_path / "cuts.pdf", format=paper)
    said = subprocess.run(
        ["pdfinfo", tmp_path / "cuts.pdf"], capture_output=True, text=True, check=True, timeout=60
    ).stdout
    # The joined sticks to saw off, the caution and the name stand on the last sheet.
    assert int(re.search(r"Pages:\s+(\d+)", said)[1]) <= ceil(strips / 15)
