"""The page of a house as one sheet: how high it is, views in projection at one scale, dimensions that open working."""

from __future__ import annotations

import pytest

from tests.browser.reading import at

pytestmark = pytest.mark.browser

HOUSES = ("north-field-2", "creek-bottom-2", "orchard-tunnel-1")
#: Millimetres a pixel, by drawing, and where the middle of the house and its ends lie.
SCALES = """() => Object.fromEntries([...document.querySelectorAll('.house-sheet svg')].map(svg => {
  const [first, second] = [...svg.querySelectorAll('.scale-bar')].map(bar => bar.getBoundingClientRect());
  const grounds = [...svg.querySelectorAll('.hatch + line')].map(line => line.getBoundingClientRect());
  return [svg.querySelector('title').textContent.split(': ')[1],
    {scale: (second.right - first.left) / svg.querySelector('.scale').dataset.mm,
     ground: [grounds[0].left, grounds[0].right], left: svg.getBoundingClientRect().left}];
}))"""


def test_a_house_is_one_desk_screen_and_a_half_and_no_more_than_five_of_a_phone(page_at):
    page = page_at(1440)
    for house in HOUSES:
        page.goto(f"/houses/{house}/")
        for width, most in ((1440, 1800), (390, 5 * 844)):
            at(page, width)
            high, wide = page.evaluate("[document.documentElement.scrollHeight, document.documentElement.scrollWidth]")
            assert high <= most and wide == width, (house, width, high)


def test_section_and_ends_stand_over_each_other_at_one_scale(page_at):
    page = page_at(1440)
    for house, ends in (("north-field-2", ["both ends"]), ("creek-bottom-2", ["the front end", "the back end"])):
        page.goto(f"/houses/{house}/")
        shown = page.evaluate(SCALES)
        assert list(shown) == ["section", "side view and plan", *ends]
        section, end = shown["section"], shown[ends[0]]
        assert section["scale"] == pytest.approx(end["scale"], rel=1e-3)
        assert section["ground"] == pytest.approx(end["ground"], abs=0.5), "one axis"
        assert shown["side view and plan"]["left"] > section["ground"][1], "beside it"


def test_a_dimension_opens_its_working(page_at):
    page = page_at(390)
    page.goto("/houses/north-field-2/")
    working = page.locator("#working-ridge")
    assert not working.is_visible()
    page.locator('a[href="#working-ridge"]').press("Enter")
    working.wait_for(state="visible")
    assert "above the ground + rise" in working.inner_text()
    # Pressed again, it stays open.
    page.locator('a[href="#working-ridge"]').press("Enter")
    assert working.is_visible()
