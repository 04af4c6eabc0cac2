"""Sheets of labels: so many across and down on a page of common paper, cut apart or torn at the dashes.

ISO 216 gives A4 as 210 x 297 mm; Letter is 8 1/2 x 11 in (ANSI/ASME Y14.1). labels.css has the same figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

#: Left free on each side of the page, mm; printers do not reach the edge (common practice, no source).
MARGIN = Decimal(10)
PAPER = {"letter": (Decimal("215.9"), Decimal("279.4")), "a4": (Decimal(210), Decimal(297))}


@dataclass(frozen=True)
class LabelSize:
    """``paper`` is a key of PAPER. Sizes of one label in mm, rounded down so that a page holds them all."""

    paper: str
    across: int
    down: int

    @property
    def slug(self) -> str:
        return f"{self.paper}-{self.across}x{self.down}"

    @property
    def name(self) -> str:
        paper = "A4" if self.paper == "a4" else gettext("Letter")
        told = {"paper": paper, "across": self.across, "down": self.down}
        return gettext("%(paper)s, %(across)s across and %(down)s down") % told

    def sheets_for(self, labels: int) -> int:
        """Pages that so many labels take; the last may have room left."""
        return -(-labels // (self.across * self.down))

    @property
    def width(self) -> Decimal:
        return _down((PAPER[self.paper][0] - 2 * MARGIN) / self.across)

    @property
    def height(self) -> Decimal:
        return _down((PAPER[self.paper][1] - 2 * MARGIN) / self.down)


def _down(mm: Decimal) -> Decimal:
    return mm // 1


SIZES = [LabelSize(paper, across, down) for paper in PAPER for across, down in ((2, 3), (2, 5), (3, 8))]


def sizes_for(*, imperial: bool) -> list[LabelSize]:
    """Those on the paper that is at hand first, the middle one of it at the head."""
    first = "letter" if imperial else "a4"
    return sorted(SIZES, key=lambda size: (size.paper != first, size.across * size.down != 10))


def size_named(slug: str) -> LabelSize | None:
    return next((size for size in SIZES if size.slug == slug), None)
