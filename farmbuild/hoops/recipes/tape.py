"""Small drawings beside forms in which somebody measures: where the tape goes."""

from __future__ import annotations

from collections.abc import Sequence
from math import asin, cos, sin

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing, Number

#: Units on the sheet that such a drawing is high at most.
_HIGH = 150.0


def tape_on_hoop(points: Sequence[tuple[float, float]], free_span: str, rise: str) -> SafeString:
    """A hoop lying flat: ``points`` along it, its ends at height 0; what is wanted, in words."""
    left = min(x for x, _ in points)
    placed = [(x - left, y) for x, y in points]
    (start, _), (end, _) = placed[0], placed[-1]
    wide, high = max(x for x, _ in placed), max(y for _, y in placed)
    middle = (start + end) / 2
    words = gettext(
        "Free span: from the middle of the pipe at one end to its middle at the other, "
        "%(free_span)s wanted. Rise: from the line through both ends to the middle of the pipe at"
        " the crown, %(rise)s wanted."
    ) % {"free_span": free_span, "rise": rise}
    drawing = Drawing(wide, high, gettext("Where the tape goes on a trial hoop"), words, tallest=_HIGH)
    drawing.line(start, 0, end, 0, "thin")
    drawing.polyline(placed, "seen")
    for x, y in (placed[0], placed[-1], (middle, high)):
        drawing.circle(x, y, drawing.mm(3), "mark")
    drawing.dimension(start, 0, end, 0, gettext("free span"), -drawing.step)
    drawing.dimension(middle, high, middle, 0, gettext("rise"))
    return drawing.svg()


def tape_to_ridge(span: Number, foot: Number, ridge: Number) -> SafeString:
    """A hoop in its posts, seen from its end: up from one level line, which a string or a laser gives."""
    wide, low, high = float(span), float(foot), float(ridge)
    rise = high - low
    # The arc through both feet and the crown; where it rises more than half its span, legs under half a circle.
    radius = wide / 2 if rise >= wide / 2 else (wide * wide / 4 + rise * rise) / (2 * rise)
    words = gettext("Ridge height: from one level line for the whole house straight up to the pipe at the ridge.")
    drawing = Drawing(wide, high, gettext("Where the tape goes at a ridge"), words, tallest=_HIGH)
    drawing.ground(0, wide)
    half = asin(min(1.0, wide / 2 / radius))
    turns = [half * (n / 24 - 1) for n in range(49)]
    arc = [(wide / 2 + radius * sin(turn), high - radius + radius * cos(turn)) for turn in turns]
    drawing.polyline([(0, 0), *arc, (wide, 0)], "seen")
    drawing.line(-drawing.mm(12), low, wide + drawing.mm(12), low, "thin")
    drawing.text(wide + drawing.mm(14), low, gettext("level line"), anchor="start")
    drawing.circle(wide / 2, high, drawing.mm(3), "mark")
    drawing.dimension(wide / 2, high, wide / 2, low, gettext("ridge height"))
    return drawing.svg()


def tape_at_joint() -> SafeString:
    """Two sticks, one slid into the other; no sizes, for the form asks for them."""
    wide, high, slid = 320.0, 40.0, 90.0
    words = gettext(
        "Insertion: from the end of the outer stick to the end of the reduced end inside it. Push"
        " it home first, mark the inner stick at the edge, draw it out, and measure from its end "
        "to the mark."
    )
    drawing = Drawing(wide, high, gettext("Where the tape goes at a joint"), words, tallest=_HIGH / 3)
    edge, inside = wide / 2, wide / 2 - slid
    drawing.rect(0, 0, edge, high, "seen")
    drawing.polyline([(wide, 0), (edge + 14, 0), (edge, 7), (edge, high - 7), (edge + 14, high), (wide, high)], "seen")
    drawing.polyline([(edge, 7), (inside, 7), (inside, high - 7), (edge, high - 7)], "thin")
    drawing.dimension(inside, 0, edge, 0, gettext("insertion"), -drawing.step)
    return drawing.svg()
