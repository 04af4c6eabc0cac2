"""Drawings of pages on their way into a PDF."""

from __future__ import annotations

import re

_WIDE = re.compile(r'width="([\d.]+)mm"')
_VIEW = re.compile(r'viewBox="\S+ \S+ ([\d.]+) ([\d.]+)"')
#: Control characters that no XML 1.0 has.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f]")
#: The page gives its drawings their look by a style sheet; on paper they bring it along.
_STYLE = (
    "<style>text{font-family:'Libertinus Serif';font-weight:700;font-size:13px;text-anchor:middle;fill:#000}"
    ".start{text-anchor:start}.end{text-anchor:end}"
    "line,polyline,polygon,path,circle,rect{fill:none;stroke:#000;stroke-width:1.6px;stroke-linejoin:round}"
    ".thin,.tick{stroke-width:.7px}.dash{stroke-width:1px;stroke-dasharray:6 4}.fill{fill:#e6e6e6}"
    ".mark{stroke-width:2.6px}</style>"
)


def drawing_for_paper(svg: str) -> dict[str, str | float]:
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
