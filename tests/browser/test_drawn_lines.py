"""Drawings as a browser draws them: weights of lines, the person and the bar to scale, the ratio on paper."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

HOUSE = "/houses/north-field-2/"
#: Class of a line, and its width in px of the screen.
WEIGHTS = {"cut": 2, "seen": 1.2, "thin": 0.6, "tick": 1.2, "axis": 0.6, "mark": 2}
MM_OF_PX = 25.4 / 96

MEASURED = """() => [...document.querySelectorAll('svg.scaled')].map(svg => {
  const box = e => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
  const scale = svg.querySelector('.scale'), bars = [...scale.querySelectorAll('rect')].map(box);
  const person = svg.querySelector('.person');
  return {
    title: svg.querySelector('title').textContent, width: svg.getBoundingClientRect().width,
    view: svg.viewBox.baseVal.width, ratio: +scale.dataset.ratio.split(':')[1], mm: +scale.dataset.mm,
    bar: bars[1][2] - bars[0][0], said: scale.querySelector('text').textContent,
    person: person && person.querySelector('line:last-of-type') && (() => {
      const head = person.querySelector('circle').getBoundingClientRect();
      const feet = Math.max(...[...person.querySelectorAll('line')].map(l => l.getBoundingClientRect().bottom));
      return feet - head.top;
    })(),
  };
})"""
STROKES = """names => Object.fromEntries(names.map(name => [name, [...new Set(
  [...document.querySelectorAll('.drawing svg .' + name)].filter(e => e.tagName != 'text' && e.tagName != 'g')
    .map(e => getComputedStyle(e).strokeWidth + ' ' + getComputedStyle(e).vectorEffect))]]))"""
SAID = {"4'": 1219.2, "10'": 3048.0, "2'": 609.6, "20'": 6096.0}


def weights(page) -> dict[str, list[str]]:
    return page.evaluate(STROKES, list(WEIGHTS))


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_lines_have_three_weights_on_screen_and_on_paper(page_at, scheme):
    page = page_at(390, color_scheme=scheme)
    page.goto(HOUSE)
    wanted = {name: [f"{width}px non-scaling-stroke"] for name, width in WEIGHTS.items()}
    assert weights(page) == wanted
    page.emulate_media(media="print")
    assert weights(page) == wanted


def test_person_and_bar_are_to_scale_and_paper_has_the_ratio(page_at):
    page = page_at(1440)
    page.goto(HOUSE)
    for medium in ("screen", "print"):
        page.emulate_media(media=medium)
        shown = page.evaluate(MEASURED)
        assert len([drawing for drawing in shown if drawing["person"]]) == 1, "one person, in the section"
        for drawing in shown:
            px_of_mm = drawing["bar"] / drawing["mm"]
            assert SAID[drawing["said"]] == pytest.approx(drawing["mm"], abs=0.1)
            if drawing["person"]:
                assert drawing["person"] / px_of_mm == pytest.approx(1727.2, rel=0.015)
            if medium == "print":
                assert 1 / (px_of_mm * MM_OF_PX) == pytest.approx(drawing["ratio"], rel=0.01), drawing["title"]


def test_a_narrow_post_is_one_line_on_a_phone_and_two_on_a_desk(page_at):
    doubled = """() => [...document.querySelectorAll('rect[class*="from-"], line[class*="to-"]')]
        .map(e => [e.tagName, getComputedStyle(e).display != 'none', Math.min(e.getBoundingClientRect().width,
            e.getBoundingClientRect().height)])"""
    page = page_at(390)
    page.goto("/houses/orchard-tunnel-1/")
    phone = page.evaluate(doubled)
    assert phone and all(shown == (tag == "line") for tag, shown, _ in phone)
    page.set_viewport_size({"width": 1440, "height": 900})
    desk = [thickness for tag, shown, thickness in page.evaluate(doubled) if tag == "rect" and shown]
    assert desk and min(desk) >= 6


@pytest.mark.parametrize("width", [390, 1440])
def test_words_stand_three_pixels_clear_of_their_lines(page_at, width):
    page = page_at(width)
    page.goto(HOUSE)
    clear = page.evaluate(
        """() => [...document.querySelectorAll('svg.scaled text.dim:not([transform])')].map(text => {
            const size = parseFloat(getComputedStyle(text).fontSize) * text.getScreenCTM().a;
            const dy = parseFloat(text.getAttribute('dy'));
            // Letters without what goes over the capitals: a figure is 0.73 of its size, a tail 0.22.
            return dy < 0 && text.classList.contains('middle') ? -dy * size - 0.22 * size
                : text.classList.contains('middle') ? dy * size - 0.74 * size : 9;
        })"""
    )
    assert len(clear) > 4 and min(clear) >= 2.99


def test_paper_has_the_ratio_of_every_drawing_to_scale(page_at, demo):
    """Where it stands in a narrower column too."""
    from farmbuild.hoops.models import Recipe

    page, shown = page_at(820), []
    for recipe in Recipe.objects.of(demo.organisation):
        for path in (recipe.get_absolute_url(), f"{recipe.get_absolute_url()}sheet/"):
            page.emulate_media(media="screen")
            assert page.goto(path).status == 200
            # What paper is wide: A4 less the margins of the sheet.
            page.set_viewport_size({"width": int((210 - 28) / MM_OF_PX), "height": 900})
            page.emulate_media(media="print")
            shown += [(path, drawing) for drawing in page.evaluate(MEASURED)]
    assert len(shown) >= 6
    wrong = [
        (path, drawing["title"], drawing["ratio"], drawing["mm"] / (drawing["bar"] * MM_OF_PX))
        for path, drawing in shown
        if drawing["mm"] / (drawing["bar"] * MM_OF_PX) != pytest.approx(drawing["ratio"], rel=0.01)
    ]
    assert wrong == []
