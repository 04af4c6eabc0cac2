"""How far hoops stand from where the trend of their tube began, over the pulls of a bender."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.safestring import SafeString
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.drawing import LETTER, Drawing
from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said_count
from farmbuild.common.templatetags.farm import day
from farmbuild.hoops.batches.measured.wear import TubeTrend, Wear
from farmbuild.measure import format_count

_WIDE, _HIGH = 270.0, 120.0
#: Tubes drawn at most: as many marks can be told apart.
MOST_TUBES = 3
#: Hoops told one by one to whoever cannot see the drawing.
_MOST_TOLD = 12
MARKS = {"dots": gettext_lazy("dots"), "rings": gettext_lazy("rings"), "squares": gettext_lazy("squares")}


def drawn_tubes(wear: Wear) -> list[TubeTrend]:
    """Those with a trend over pulls, or all over days where none has; the most hoops first."""
    found = [tube for tube in wear.tubes if tube.trend]
    over_pulls = [tube for tube in found if tube.over_pulls]
    return sorted(over_pulls or found, key=lambda tube: -len(tube.hoops))[:MOST_TUBES]


def wear_drawing(wear: Wear) -> SafeString | None:
    """Dots, rings or squares by tube, the trend of each, and the limit above and below; None where nothing compares."""
    tubes = drawn_tubes(wear)
    if not tubes:
        return None
    units, over_pulls = wear.bender.organisation.unit_system, tubes[0].over_pulls
    shown = [(tube, [(r.at, tube.trend.off(r)) for r in tube.trend.readings]) for tube in tubes if tube.trend]
    limit = float(tubes[0].limit)
    first = min(at for _, rows in shown for at, _ in rows)
    last = max(at for _, rows in shown for at, _ in rows)
    offs = [off for _, rows in shown for _, off in rows]
    high, low = max(limit * 1.3, *offs), min(-limit * 1.3, *offs)
    drawing = Drawing(
        _WIDE,
        _HIGH,
        gettext("%(bender)s: change of its radius") % {"bender": wear.bender.name},
        _told(wear, tubes, units),
    )

    def place(at: float, off: float) -> tuple[float, float]:
        return (at - first) / max(1.0, last - first) * _WIDE, (off - low) / (high - low) * _HIGH

    most = gettext("limit")
    for off, css, words in ((limit, "limit", most), (0.0, "thin", gettext("as before")), (-limit, "limit", most)):
        _, y = place(first, off)
        drawing.line(0, y, _WIDE, y, css)
        drawing.text(_WIDE + 8, y - LETTER / 3, words, "small", anchor="start")
    for mark, (tube, rows) in zip(MARKS, shown, strict=False):
        if trend := tube.trend:
            drawing.polyline([place(trend.start, 0), place(trend.end, trend.change)])
        for at, off in rows:
            _mark(drawing, mark, *place(at, off))
    ends = (gettext("wider"), _HIGH + 6), (gettext("tighter"), -LETTER - 2)
    for words, y in ends:
        drawing.text(0, y, words, "small", anchor="start")
    floor = -2.6 * LETTER
    drawing.text(0, floor, _at(first, over_pulls, wear, 0), "small", anchor="start")
    drawing.text(_WIDE, floor, _at(last, over_pulls, wear, -1), "small", anchor="end")
    return drawing.svg()


def _mark(drawing: Drawing, mark: str, x: float, y: float) -> None:
    if mark == "squares":
        drawing.rect(x - 3.5, y - 3.5, 7, 7, "ink")
    else:
        drawing.circle(x, y, 3.5, "fill" if mark == "dots" else "ink")


def _at(at: float, over_pulls: bool, wear: Wear, which: int) -> str:
    if over_pulls:
        return said_count(round(at), "pull")
    return day(wear.hoops[which].day)


def _told(wear: Wear, tubes: Sequence[TubeTrend], units: str) -> str:
    """The same in words: each tube with its hoops, the oldest first."""
    said = []
    for tube in tubes:
        hoops = [hoop for hoop in tube.hoops if tube.trend and hoop.alike in tube.trend.levels][-_MOST_TOLD:]
        rows = ", ".join(
            gettext("%(radius)s after %(pulls)s pulls")
            % {"radius": length_text(hoop.radius, units), "pulls": format_count(hoop.pulls)}
            for hoop in hoops
        )
        said.append(f"{tube.tube.name}: {rows}.")
    limit = length_text(tubes[0].limit, units)
    return gettext("Radius of hoops, oldest first; it may change by %(limit)s. %(said)s") % {
        "limit": limit,
        "said": " ".join(said),
    }
