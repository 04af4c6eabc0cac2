"""Whether a page reads well at each width, looked at in one page that is made wider and narrower."""

from __future__ import annotations

import base64
import json
import os
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT

from tests.size import LONG
from tests.where import ROOT

#: A phone, a tablet and a desk.
WIDTHS = (390, 820, 1440)
#: Of those where pages are looked at in the usual run, and where axe runs when test_pages has them at a desk's.
LOOKED_AT = WIDTHS if LONG else (390, 1440)
WITH_AXE = WIDTHS if LONG else (390,)
OUT = ROOT / ".ci" / "out" / "pages"
#: Where pages are kept as pictures; unset, none is taken. The long run sets it.
SHOTS = Path(os.environ["FARMBUILD_SHOTS"]) if os.environ.get("FARMBUILD_SHOTS") else None
#: A phone of a common size, and how many of its screens a page may be long.
PHONE, SCREEN, SCREENS = 390, 844, 5
#: The narrowest phone that pages are made for.
NARROWEST = 320
#: Most words of the first sentence of an answer; a length in feet and inches is one.
WORDS = 18
_LENGTH = re.compile(r"""\d+'(?: \d[\d/ ]*")?|\d+(?: \d+/\d+)?\"""")
_SENTENCE = re.compile(r"(?<=[.?!])\s+(?=[A-Z0-9“])")
#: Rules of axe whose findings are never more than moderate, and which look at every element.
_MODERATE = """region heading-order landmark-one-main landmark-unique landmark-main-is-top-level page-has-heading-one
  aria-allowed-role presentation-role-conflict scope-attr-valid empty-heading image-redundant-alt skip-link""".split()  # noqa: SIM905
#: Rows of a table after the first of its body are made as those are; the long run looks at all.
_MORE_ROWS = [] if LONG else [["tbody tr:nth-child(n + 6)"]]
#: Nothing is fetched for it: rules that need films or style sheets again are of pages that play something.
_AXE = {
    "resultTypes": ["violations"],
    "preload": False,
    "rules": {rule: {"enabled": False} for rule in _MODERATE},
}
_FINDINGS = f"""axe.run({json.dumps({"exclude": _MORE_ROWS})}, {json.dumps(_AXE)}).then((found) => found.violations
  .filter((one) => ["serious", "critical"].includes(one.impact))
  .map((one) => `${{one.id}}: ${{one.nodes[0].html.slice(0, 160)}}`))"""

#: How high what is pressed is at least on a phone, px.
TARGET = 44
#: Rows of the season line are 36 px, and all of a row is pressed.
#: From the middle of each up and down as far as a press still reaches it; a link in a sentence is a word of it.
_TOO_LOW = """(least) => {
  const shown = (one) => one.getClientRects().length && getComputedStyle(one).visibility !== "hidden"
    && !one.closest("details:not([open]) > :not(summary), svg, .term");
  const inSentence = (one) => one.tagName === "A" && one.closest("p, dd, figcaption, li:not(:has(> a:only-child))")
    && one.parentElement.textContent.trim().length > one.textContent.trim().length + 3
    && getComputedStyle(one).display === "inline" && !getComputedStyle(one, "::after").content.startsWith('"');
  return [...document.querySelectorAll("main :is(a[href], button)")]
    .filter((one) => shown(one) && !one.matches(".unseen, thead a, .steps a, .season-row a") && !inSentence(one))
    .filter((one) => {
      one.scrollIntoView({block: "center"});
      const box = one.getBoundingClientRect();
      const across = box.left + Math.min(box.width, 60) / 2, middle = box.top + box.height / 2;
      const reaches = (y) => one.contains(document.elementFromPoint(across, y));
      let up = 0, down = 0;
      while (up < least && reaches(middle - up - 1)) up++;
      while (down < least && reaches(middle + down + 1)) down++;
      return Math.max(up + down + 1, box.height) < least;
    }).slice(0, 3).map((one) => (one.textContent.trim() || one.outerHTML).replace(/\\s+/g, " ").slice(0, 50));
}"""

#: By how many px the page scrolls sideways.
_SPILL = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
_LARGE = "document.documentElement.style.fontSize = '225%'"
_AS_EVER = "document.documentElement.style.fontSize = ''"
_HIGH = "document.documentElement.scrollHeight"
_HEADINGS = "document.querySelectorAll('h1').length"
#: Of the answer of a page; "" where it asks instead.
_ANSWER = "(document.querySelector('.answer') || {innerText: ''}).innerText"
_ROWS_TOO_HIGH = """() => [...document.querySelectorAll(".table tbody tr.linked")]
  .filter((row) => row.getBoundingClientRect().height > 65 && !row.closest("details:not([open])"))
  .slice(0, 2).map((row) => row.innerText.replace(/\\s+/g, " ").slice(0, 60))"""

_COLLISIONS = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('main svg')) {
    if (svg.closest('details:not([open])')) continue;
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

#: Lines that are broken, and those of another weight than the three of ISO 128 and the tick of today.
_ODD_LINES = """() => [...new Set([...document.querySelectorAll('main .drawing svg *')]
  .filter(line => ['line', 'polyline', 'polygon', 'path', 'circle', 'rect'].includes(line.tagName))
  .filter(line => getComputedStyle(line).display != 'none' && getComputedStyle(line).stroke != 'none')
  .map(line => [line.getAttribute('class') ?? '', getComputedStyle(line)])
  .map(([kinds, style]) => [kinds.split(' '), parseFloat(style.strokeWidth), style.strokeDasharray != 'none'])
  .filter(([kinds, width, broken]) => broken != kinds.some(kind => ['dash', 'axis', 'limit', 'coming'].includes(kind))
    || ![0.6, 1.2, 2, 3].includes(width) || width == 3 && !kinds.includes('today') && !kinds.includes('lit'))
  .map(([kinds, width, broken]) => `${kinds.join(' ')}: ${width} px${broken ? ', broken' : ''}`))]"""
#: All that a page folds is open while its drawings are measured.
_DRAWN = f"""() => {{
  const folded = [...document.querySelectorAll("details:not([open])")];
  folded.forEach((part) => part.open = true);
  const told = [...({_ODD_LINES})(), ...({_COLLISIONS})()];
  folded.forEach((part) => part.open = false);
  return told;
}}"""


def at(page: Any, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})


def spill(page: Any) -> int:
    return page.evaluate(_SPILL)


def findings(page: Any) -> list[str]:
    """What axe finds that is serious or critical."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    return page.evaluate(_FINDINGS)


def collisions(page: Any) -> list[str]:
    """Words of one drawing that lie over each other by more than a pixel each way."""
    return page.evaluate(_COLLISIONS)


def drawing_problems(page: Any) -> list[str]:
    """Words that lie over others, and lines of no kind, in drawings that are shown or folded away."""
    return [f"{page.url} at {page.viewport_size['width']} px, {found}" for found in page.evaluate(_DRAWN)]


def photograph(page: Any, name: str) -> None:
    """The whole page, kept as ``name`` where pictures are wanted, by Chromium's own quick way."""
    if SHOTS is None:
        return
    SHOTS.mkdir(parents=True, exist_ok=True)
    page.evaluate("document.fonts.ready.then(() => true)")
    devtools = page.context.new_cdp_session(page)
    size = devtools.send("Page.getLayoutMetrics")["cssContentSize"]
    options = {"captureBeyondViewport": True, "optimizeForSpeed": True, "clip": size | {"scale": 1}}
    options |= {"format": "jpeg", "quality": 60}
    picture = devtools.send("Page.captureScreenshot", options)
    devtools.detach()
    (SHOTS / f"{name}.jpg").write_bytes(base64.b64decode(picture["data"]))


def photograph_paper(page: Any, name: str) -> None:
    """The page as it is printed, kept likewise."""
    if SHOTS is None:
        return
    at(page, 820)
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    photograph(page, name)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")


def screens(page: Any) -> float:
    """How many screens of a phone the page is long."""
    page.set_viewport_size({"width": PHONE, "height": SCREEN})
    return page.evaluate(_HIGH) / SCREEN


def reflow_problems(page: Any) -> list[str]:
    """Nothing goes to the side on the narrowest phone, nor where the text is made twice as large."""
    told = []
    at(page, NARROWEST)
    if (wide := spill(page)) > 1:
        told.append(f"{page.url} scrolls sideways by {wide} px at {NARROWEST} px")
    at(page, PHONE)
    if (wide := page.evaluate(f"{_LARGE}; const wide = {_SPILL}; {_AS_EVER}; wide")) > 1:
        told.append(f"{page.url} scrolls sideways by {wide} px with text at 200 %")
    return told


def words_in(sentence: str) -> int:
    return sum(any(sign.isalnum() for sign in word) for word in _LENGTH.sub("1", sentence).split())


def first_sentence(page: Any) -> str:
    return _first(page.evaluate(_ANSWER))


def _first(said: str) -> str:
    return _SENTENCE.split(" ".join(said.split()))[0]


#: What is measured of a page on a phone, in one go; what changes its letters comes last.
_ON_A_PHONE = f"""(least) => {{
  const high = {_HIGH}, answer = {_ANSWER}, rows = ({_ROWS_TOO_HIGH})(), low = ({_TOO_LOW})(least);
  {_LARGE};
  const wide = {_SPILL};
  {_AS_EVER};
  return {{high, answer, rows, low, wide}};
}}"""


def phone_problems(page: Any) -> list[str]:
    """Nothing to the side on the narrowest phone nor with text at 200 %, no more than five screens, few words to begin
    with, targets for a glove, rows of two lines."""
    told = []
    page.set_viewport_size({"width": PHONE, "height": SCREEN})
    found = page.evaluate(_ON_A_PHONE, TARGET)
    if found["wide"] > 1:
        told.append(f"{page.url} scrolls sideways by {found['wide']} px with text at 200 %")
    if (long := found["high"] / SCREEN) > SCREENS:
        told.append(f"{page.url} is {long:.1f} screens of a phone long")
    if (count := words_in(first := _first(found["answer"]))) > WORDS:
        told.append(f"{page.url} begins with {count} words: {first}")
    told += [f"{page.url}, lower than a glove finds: {words}" for words in found["low"]]
    told += [f"{page.url}, a row has more than two lines: {row}" for row in found["rows"]]
    at(page, NARROWEST)
    if (wide := spill(page)) > 1:
        told.append(f"{page.url} scrolls sideways by {wide} px at {NARROWEST} px")
    return told


def problems_of(
    page: Any, *, axe_at: Iterable[int] = WITH_AXE, keep: str = "", widths: Iterable[int] = LOOKED_AT
) -> list[str]:
    """Of the page that is open: one heading, nothing to the side, no words over others in a drawing, no serious
    finding; kept as pictures on request. In the usual run at fewer widths."""
    told = []
    for width in sorted(widths, reverse=True):
        at(page, width)
        headings, wide, over = page.evaluate(f"[{_HEADINGS}, {_SPILL}, ({_COLLISIONS})()]")
        if headings != 1:
            told.append(f"{page.url} has {headings} headings of the first rank")
        if wide > 1:
            told.append(f"{page.url} scrolls sideways by {wide} px at {width} px")
        told += [f"{page.url} at {width} px, {found}" for found in over]
        if width in axe_at:
            told += [f"{page.url} at {width} px, {found}" for found in findings(page)]
        if keep:
            photograph(page, f"{keep}-{width}")
    return told
