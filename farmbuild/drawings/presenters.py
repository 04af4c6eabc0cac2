"""What the page of a drawing set shows, and which sheets are for whom."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.speaking import said
from farmbuild.drawings.drawing_set import LIST, DrawingSet, drawing_set
from farmbuild.drawings.linework import lines_and_words
from farmbuild.drawings.scales import PAPERS, Paper
from farmbuild.sites.bridge import spec_problems
from farmbuild.sites.models import House
from farmbuild.sites.presenters import labelled

#: Longer than this, letters of SVG, a sheet is not shown small: a house of some hundred hoops.
_MOST_SHOWN = 60_000


@dataclass(frozen=True)
class ShownSheet:
    """``number`` is the page of the PDF; ``picture`` is empty for a list, and where it would be too long."""

    number: int
    title: str
    scale: str
    picture: SafeString | str


@dataclass(frozen=True)
class SetPage:
    """``problems`` are (field label, message); with one there are no drawings."""

    paper: Paper
    others: list[Paper] = field(default_factory=list)
    problems: list[tuple[str, str]] = field(default_factory=list)
    sheets: list[ShownSheet] = field(default_factory=list)
    borrowed_letters: bool = False


def set_page(house: House, *, paper: Paper, by: str) -> SetPage:
    if problems := labelled(spec_problems(house, house.organisation.unit_system)):
        return SetPage(paper, problems=problems)
    found = drawing_set(house, paper=paper, by=by)
    shown = []
    for number, sheet in enumerate(found.sheets, 1):
        # A list has nothing that could be seen so small.
        svg = lines_and_words(sheet, paper)[0] if sheet.views else ""
        picture = (
            _small(svg, gettext("Sheet %(number)s: %(title)s") % {"number": number, "title": said(sheet.title)})
            if 0 < len(svg) <= _MOST_SHOWN
            else ""
        )
        shown.append(ShownSheet(number, sheet.title, sheet.scale, picture))
    return SetPage(paper, [other for other in PAPERS.values() if other != paper], [], shown, found.borrowed_letters)


def _small(svg: str, title: str) -> SafeString:
    """The lines of a sheet alone, in the ink of the page; its words would be too small to read."""
    inside = svg[svg.index(">") + 1 : svg.index("</svg>")].replace('stroke="#000"', 'stroke="currentColor"')
    box = svg[svg.index("viewBox") : svg.index(" width=")]
    start = format_html('<svg {} role="img"><title>{}</title>', mark_safe(box), title)
    return mark_safe(f"{start}{inside}</svg>")


def sheets_for(found: DrawingSet, asked: str) -> DrawingSet:
    """Those for the crew, or for a supplier; any other asks for all. Each keeps its number in the whole set."""
    if asked == "crew":
        kept = tuple(sheet for sheet in found.sheets if sheet.title != LIST)
    elif asked == "supplier":
        kept = tuple(sheet for sheet in found.sheets if sheet.title == LIST)
    else:
        return found
    return replace(found, sheets=kept, part=True)
