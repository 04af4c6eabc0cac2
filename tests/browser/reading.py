"""Whether a page reads well at each width, looked at in one page that is made wider and narrower."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

from tests.where import ROOT

#: A phone, a tablet and a desk.
WIDTHS = (390, 820, 1440)
OUT = ROOT / ".ci" / "out" / "pages"
_FINDINGS = """axe.run({resultTypes: ["violations"]}).then((found) => found.violations
  .filter((one) => ["serious", "critical"].includes(one.impact))
  .map((one) => `${one.id}: ${one.nodes[0].html.slice(0, 160)}`))"""

_COLLISIONS = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('main svg')) {
    const words = [...svg.querySelectorAll('text')].filter(text => text.textContent.trim())
      .map(text => [text.textContent, text.getBoundingClientRect()]).filter(([, box]) => box.width);
    words.forEach(([one, a], at) => words.slice(at + 1).forEach(([other, b]) => {
      const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
      const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
      if (across > 1 && down > 1)
        found.push(`${svg.querySelector('title')?.textContent ?? 'a drawing'}: "${one}" lies over "${other}"`);
    }));
  }
  return found;
}"""


def at(page: Any, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})


def spill(page: Any) -> int:
    """By how many px the page scrolls sideways."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def findings(page: Any) -> list[str]:
    """What axe finds that is serious or critical."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    return page.evaluate(_FINDINGS)


def collisions(page: Any) -> list[str]:
    """Words of one drawing that lie over each other by more than a pixel each way."""
    return page.evaluate(_COLLISIONS)


def photograph(page: Any, name: str) -> None:
    """The whole page, kept as ``name``; Playwright's own way presses every picture as small as can be, which takes."""
    OUT.mkdir(parents=True, exist_ok=True)
    page.evaluate("document.fonts.ready.then(() => true)")
    devtools = page.context.new_cdp_session(page)
    size = devtools.send("Page.getLayoutMetrics")["cssContentSize"]
    options = {"captureBeyondViewport": True, "optimizeForSpeed": True, "clip": size | {"scale": 1}}
    picture = devtools.send("Page.captureScreenshot", options)
    devtools.detach()
    (OUT / f"{name}.png").write_bytes(base64.b64decode(picture["data"]))


def problems_of(
    page: Any, *, axe_at: Iterable[int] = WIDTHS, keep: str = "", widths: Iterable[int] = WIDTHS
) -> list[str]:
    """Of the page that is open: one heading, nothing to the side, no words over others in a drawing, no serious
    finding; kept as pictures on request."""
    told = []
    if (headings := page.locator("h1").count()) != 1:
        told.append(f"{page.url} has {headings} headings of the first rank")
    for width in sorted(widths, reverse=True):
        at(page, width)
        if (wide := spill(page)) > 1:
            told.append(f"{page.url} scrolls sideways by {wide} px at {width} px")
        told += [f"{page.url} at {width} px, {found}" for found in collisions(page)]
        if width in axe_at:
            told += [f"{page.url} at {width} px, {found}" for found in findings(page)]
        if keep:
            photograph(page, f"{keep}-{width}")
    return told
