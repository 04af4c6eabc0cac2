"""Houses taken to their places: by mouse, by arrow keys, saved together, and drawn where they are stored."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.sites.models import House
from tests.browser.reading import findings, spill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
STEP = Decimal("152.4")
#: Pixels a millimetre, the stake, and the corner of each house that is measured from, as they are on the screen.
_DRAWN = """() => {
  const scaled = document.querySelector('[data-units-a-mm]');
  const svg = scaled.querySelector('svg');
  const stake = svg.querySelector('.axis').getBoundingClientRect();
  const corners = [...svg.querySelectorAll('.corner')].map(corner => {
    const box = corner.getBoundingClientRect();
    const house = corner.closest('.house-plan');
    return [house.dataset.house ?? house.getAttribute('aria-label'), box.x + box.width / 2, box.y + box.height / 2];
  });
  return {
    scale: svg.getScreenCTM().a * Number(scaled.dataset.unitsAMm), corners,
    stake: [stake.x, stake.y + stake.height / 2],
  };
}"""


def measured(page) -> dict[str, tuple[float, float]]:
    """Along and across of each house by its key or label, mm, measured on the screen."""
    drawn = page.evaluate(_DRAWN)
    x, y, scale = *drawn["stake"], drawn["scale"]
    return {name: ((a - x) / scale, (y - b) / scale) for name, a, b in drawn["corners"]}


def test_a_house_is_drawn_to_its_place_and_stands_there(page_at, demo):
    page = page_at(1440)
    page.goto("/sites/creek-bottom/places/")
    assert spill(page) <= 0 and findings(page) == []
    first = House.objects.get(name="Creek Bottom 1", organisation=demo.organisation)
    second = House.objects.get(name="Creek Bottom 2", organisation=demo.organisation)
    assert second.along is None
    place = page.locator(f'.movable[data-house="{second.pk}"]')
    box = place.locator("rect").first.bounding_box()
    x, y = box["x"] + box["width"] / 4, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 20, y - 60)
    page.mouse.move(x + 31, y - 187)
    page.mouse.up()
    typed = {name: page.locator(f"#id_h{second.pk}-{name}") for name in ("along", "across", "ridge_turn")}
    assert "Not saved yet." in page.locator("[data-said]").inner_text()
    # It moved with the mouse, to the nearest half foot.
    along, across = measured(page)[str(second.pk)]
    assert along > 0 and across > 0
    assert along / float(STEP) == pytest.approx(round(along / float(STEP)), abs=0.1)
    before = typed["along"].input_value()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert typed["along"].input_value() != before
    where = measured(page)[str(second.pk)]
    assert where[0] == pytest.approx(along + 2 * float(STEP), abs=15)
    assert where[1] == pytest.approx(across + float(STEP), abs=15)
    # The other is typed; one Save has both.
    page.locator(f"#id_h{first.pk}-along").fill("14")
    page.get_by_role("button", name="Save the places").click()
    page.wait_for_url("**/sites/creek-bottom/")
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.along == 14 * Decimal("304.8")
    assert second.along % STEP == 0 and second.across % STEP == 0
    assert (float(second.along), float(second.across)) == pytest.approx(where, abs=15)
    assert findings(page) == []
    drawn = measured(page)
    for house in (first, second):
        [found] = [place for label, place in drawn.items() if house.name in label]
        assert found == pytest.approx((float(house.along), float(house.across)), abs=20)


def test_without_a_script_nothing_asks_to_be_moved(page_at, demo):
    page = page_at(390, java_script_enabled=False)
    page.goto("/sites/creek-bottom/places/")
    assert page.locator("[data-hint]").is_hidden()
    assert page.locator(".movable[tabindex]").count() == 0
    house = House.objects.get(name="Creek Bottom 2", organisation=demo.organisation)
    page.locator(f"#id_h{house.pk}-along").fill("100")
    page.locator(f"#id_h{house.pk}-across").fill("10")
    page.get_by_role("button", name="Save the places").click()
    house.refresh_from_db()
    assert (house.along, house.across) == (100 * Decimal("304.8"), 10 * Decimal("304.8"))
