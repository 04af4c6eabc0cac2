"""Lying bars to compare by: a name over each, what there is filled, what is added plain, and the number at its end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from farmbuild.common.drawing import LETTER_BREADTH, Drawing

#: Of the drawing's box, one unit a unit of the sheet; of a row and of its bar.
WIDE, ROW, BAR = 280.0, 40.0, 14.0
#: From a bar to the number beside it.
_ROOM = 5.0


@dataclass(frozen=True)
class Bar:
    """``there`` and ``added``: 0 or more, in one measure; ``end``: the number beside the bar, as it is read."""

    name: str
    there: float
    added: float
    end: str


def bars(rows: Sequence[Bar], title: str, description: str) -> SafeString:
    """From the top in the order given. One row or more."""
    high = ROW * len(rows)
    drawing = Drawing(WIDE, high, title, description, tallest=high)
    most = max((row.there + row.added for row in rows), default=0.0) or 1.0
    beside = max(len(row.end) for row in rows) * LETTER_BREADTH + _ROOM
    scale = (WIDE - beside) / most
    for at, row in enumerate(rows):
        base = high - ROW * (at + 1) + 4
        there, added = row.there * scale, row.added * scale
        drawing.text(0, base + BAR + 5, row.name, anchor="start")
        drawing.line(0, base, 0, base + BAR, "ink")
        if there:
            drawing.rect(0, base, there, BAR, "ink fill")
        if added:
            drawing.rect(there, base, added, BAR, "ink")
        drawing.text(there + added + _ROOM, base + 2, row.end, anchor="start")
    return drawing.svg()
