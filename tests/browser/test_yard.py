"""The yard as it stands on the page: to one scale in pixels, five phone screens, large letters, each row its house."""

from __future__ import annotations

import pytest

from farmbuild.sites.models import House
from tests.browser.reading import OUT, findings, spill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = 844
_PLANS = """() => [...document.querySelectorAll('.yard li:has(.house-plan)')].map(row => {
  const box = row.querySelector('.house-plan rect').getBoundingClientRect();
  const name = row.querySelector('.yard-name');
  const at = row.querySelector('.house-plan').getBoundingClientRect();
  return {
    name: name.textContent, wide: box.width, high: box.height, room: at.width,
    opens: document.elementFromPoint(at.x + 9, at.y + at.height / 2)?.closest('a')?.getAttribute('href') ?? null,
    href: name.getAttribute('href'), seen: at.bottom < innerHeight,
  };
})"""


#: Of each site that is drawn with its houses at their places: the left upper corner of each house, and its size.
_TOGETHER = """() => [...document.querySelectorAll('.yard .together')].map(site => ({
  site: site.querySelector('h2').textContent,
  numbers: [...site.querySelectorAll('svg text')].map(text => text.textContent),
  houses: [...site.querySelectorAll('svg > g')].map(one => one.querySelector('rect')).filter(Boolean).map(rect => {
    const box = rect.getBoundingClientRect();
    return [box.x, box.bottom, box.width, box.height];
  }),
  names: [...site.querySelectorAll('.yard-name')].map(name => name.textContent),
}))"""


def _placed_to_scale(page, houses, scale) -> set[str]:
    """Names of the houses that are drawn at their places; they lie as they are stored, at the scale of the strips."""
    drawn = set()
    for site in page.evaluate(_TOGETHER):
        named = [name.split(" ", 1) for name in site["names"]]
        assert [number for number, _ in named] == [text for text in site["numbers"] if text != "N"]
        found = [(houses[name], box) for (_, name), box in zip(named, site["houses"], strict=True)]
        first, (left, bottom, _, _) = found[0]
        for house, (x, low, wide, high) in found:
            assert not house.ridge_turn
            assert wide == pytest.approx(float(house.length) * scale, abs=1)
            assert high == pytest.approx(float(house.post_span) * scale, abs=1)
            assert x - left == pytest.approx(float(house.along - first.along) * scale, abs=1)
            assert bottom - low == pytest.approx(float(house.across - first.across) * scale, abs=1)
        assert "N" in site["numbers"]
        drawn |= {name for _, name in named}
    return drawn


@pytest.mark.parametrize("width", [320, 390, 820, 1440])
def test_the_yard_is_drawn_to_one_scale_and_each_row_opens_its_house(page_at, demo, width):
    page = page_at(width)
    page.goto("/houses/")
    assert spill(page) <= 0 and findings(page) == []
    found = page.evaluate(_PLANS)
    houses = {house.name: house for house in House.objects.of(demo.organisation)}
    assert len({round(plan["room"]) for plan in found}) == 1
    scale = max(plan["wide"] for plan in found) / max(float(house.length) for house in houses.values())
    together = _placed_to_scale(page, houses, scale)
    assert len(together) == 3
    assert {plan["name"] for plan in found} == set(houses) - together
    for plan in found:
        house = houses[plan["name"]]
        assert plan["wide"] == pytest.approx(float(house.length) * scale, abs=1)
        assert plan["high"] == pytest.approx(float(house.post_span) * scale, abs=1)
    # The longest fills the width but for a stroke at either end.
    assert max(plan["wide"] for plan in found) > 0.98 * found[0]["room"]
    assert all(plan["opens"] == plan["href"] for plan in found if plan["seen"])
    if width == 390:
        assert page.evaluate("document.documentElement.scrollHeight") <= 5 * PHONE
    page.screenshot(path=OUT / f"yard_{width}.png", full_page=True)


def test_with_letters_twice_as_large_every_word_is_whole(page_at, demo):
    page = page_at(390, bypass_csp=True)
    page.goto("/houses/")
    page.add_style_tag(content="html { font-size: 200% }")
    assert spill(page) <= 0
    names = page.locator(".yard-name").evaluate_all(
        "all => all.map(one => [one.scrollWidth, one.getClientRects().length])"
    )
    # A name may take a second line, not a line a letter.
    assert names and all(lines <= 2 for _, lines in names)
