"""Piles as they stand on the page: to scale in pixels, one mark a stick, five phone screens, large letters."""

from __future__ import annotations

import re

import pytest
from django.db.models import Sum

from farmbuild.stock.models import Lot
from tests.browser.reading import OUT, findings, spill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PHONE = 844
_DRAWN = """() => [...document.querySelectorAll('.pile')].map(pile => {
  const lines = [...pile.querySelectorAll('.stroke, .cut-off:not(.held)')].map(one => one.getBoundingClientRect());
  return {
    title: pile.querySelector('title').textContent,
    offcut: pile.classList.contains('cut-end'),
    wide: Math.max(...lines.map(box => box.right)) - Math.min(...lines.map(box => box.left)),
    held: pile.querySelectorAll('.end.held').length,
    free: pile.querySelectorAll('.end.free').length,
    over: [...pile.querySelectorAll('.end')].map(one => one.getBoundingClientRect())
      .filter((box, at, all) => all.some((other, n) => n !== at
        && Math.hypot(box.x - other.x, box.y - other.y) < Math.min(box.width, box.height) - 0.5)).length,
  };
})"""


@pytest.mark.parametrize("width", [320, 390, 1440])
def test_the_stock_is_drawn_to_scale_and_counts_right(page_at, demo, width):
    page = page_at(width)
    page.goto("/stock/")
    assert spill(page) <= 0
    assert findings(page) == []
    found = page.evaluate(_DRAWN)
    assert found and not any(pile["over"] for pile in found)
    lots = Lot.objects.of(demo.organisation).filter(on_hand__gt=0)
    for kind in ("tube", "lumber"):
        rows = lots.filter(material__kind=kind, offcut=False)
        names = set(rows.values_list("material__name", flat=True))
        sums = rows.aggregate(there=Sum("on_hand"), held=Sum("reserved"))
        mine = [pile for pile in found if not pile["offcut"] and pile["title"].split(",")[0] in names]
        assert sum(pile["held"] + pile["free"] for pile in mine) == sums["there"]
        assert sum(pile["held"] for pile in mine) == sums["held"]
    films = set(lots.filter(material__kind="film").values_list("material__name", flat=True))
    scales = {}
    for pile in found:
        millimetres = int(re.sub(r"\D", "", re.search(r"\(([^()]*) mm\)", pile["title"])[1]))
        film = any(pile["title"].startswith(name) for name in films)
        # A line is drawn with an end as broad as its stroke; half a pixel either way is the screen's.
        scales.setdefault(film, []).append((pile["wide"], millimetres))
    for pairs in scales.values():
        longest = max(pairs, key=lambda pair: pair[1])
        assert all(abs(wide - longest[0] * mm / longest[1]) <= 3 for wide, mm in pairs), pairs
    page.screenshot(path=OUT / f"piles_{width}.png", full_page=True)


def test_the_stock_takes_five_phone_screens_and_large_letters(page_at, demo):
    page = page_at(390)
    page.set_viewport_size({"width": 390, "height": PHONE})
    for address in ("/stock/", "/stock/season-end/", "/l/RACK-1/"):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollHeight") <= 5 * PHONE, address
        page.evaluate("document.documentElement.style.fontSize = '225%'")
        assert spill(page) <= 1, address
