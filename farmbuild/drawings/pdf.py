"""A drawing set as a PDF, a sheet a page; the same bytes for the same set on every machine that lends it no letters."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import typst
from django.utils.translation import get_language, gettext

from farmbuild.drawings.drawing_set import DrawingSet
from farmbuild.drawings.linework import lines_and_words

_LAYOUT = Path(__file__).with_name("set.typ")


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def set_pdf(found: DrawingSet) -> bytes:
    """What is typed by people goes in as data, never as layout."""
    sheets = []
    for sheet in found.sheets:
        svg, words = lines_and_words(sheet, found.paper)
        rows = [[one.x, found.paper.high - one.y, one.text, one.height, one.anchor, one.turned] for one in words]
        sheets.append({"title": sheet.title, "lines": svg, "words": rows})
    data = {
        "language": (get_language() or "en")[:2],
        "title": gettext("Drawings of %(house)s") % {"house": found.house},
        "wide": found.paper.wide,
        "high": found.paper.high,
        "sheets": sheets,
    }
    own = not found.borrowed_letters
    return typst.compile(_layout(), format="pdf", sys_inputs={"set": json.dumps(data)}, ignore_system_fonts=own)
