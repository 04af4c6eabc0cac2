"""A bending sheet as a PDF: one page, the same bytes for the same sheet."""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from functools import cache
from pathlib import Path

import typst

from farmbuild.hoops.batches.bending_sheet import BendingSheet
from farmbuild.hoops.recipes.stick_strip import PAPER, POINTS

_WIDE = re.compile(r'width="([\d.]+)mm"')
_VIEW = re.compile(r'viewBox="\S+ \S+ ([\d.]+) ([\d.]+)"')
#: Control characters that no XML 1.0 has.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")
_LAYOUT = Path(__file__).with_name("sheet.typ")
#: The page gives its drawings their look by a style sheet; on paper they bring it along.
_STYLE = (
    "<style>text{font-family:'Libertinus Serif';font-weight:700;font-size:13px;text-anchor:middle;fill:#000}"
    ".start{text-anchor:start}.end{text-anchor:end}"
    "line,polyline,polygon,path,circle,rect{fill:none;stroke:#000;stroke-width:1.6px;stroke-linejoin:round}"
    ".thin,.tick{stroke-width:.7px}.dash{stroke-width:1px;stroke-dasharray:6 4}.fill{fill:#e6e6e6}"
    ".mark{stroke-width:2.6px}</style>"
)


@cache
def _layout() -> bytes:
    return _LAYOUT.read_bytes()


def _drawing(svg: str) -> dict[str, str | float]:
    """The picture alone, with its look, and how wide and high it is at the ratio that it says, mm."""
    # XML 1.0 has no such character, not even escaped.
    svg = _NOT_XML.sub(" ", svg)
    start = svg.index("<svg")
    inside = svg.index(">", start) + 1
    head = svg[start:inside]
    across, down = map(float, _VIEW.search(head).groups())
    wide = float(_WIDE.search(head)[1])
    picture = head + _STYLE + svg[inside : svg.index("</svg>") + len("</svg>")]
    return {"svg": picture, "wide": wide, "high": wide * down / across}


def sheet_pdf(sheet: BendingSheet, *, foot: str) -> bytes:
    """``foot``: who printed it and when. What is typed by people goes in as data, never as layout."""
    data = asdict(sheet) | {"hoops_to_scale": [_drawing(svg) for svg in sheet.hoops_to_scale], "foot": foot}
    data["stick"] |= {"rem": POINTS, "letter": PAPER.letter}
    data["cautions"] = [[caution.about, caution.words] for caution in sheet.cautions]
    # The fonts of the wheel only, and no clock: the same bytes on every machine.
    return typst.compile(_layout(), format="pdf", sys_inputs={"sheet": json.dumps(data)}, ignore_system_fonts=True)
