"""The ridge along the house: heights drawn larger than lengths, so that a half inch shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import LETTER, LETTER_BREADTH, Drawing
from farmbuild.common.lengths import length_text
from farmbuild.hoops.fits.sighted import HoopRow
from farmbuild.measure import format_decimal

#: On the sheet: how high the heights are drawn at most, and rows of words over them.
_HIGH, _MAX_LEVELS = 150.0, 6
_LEVEL = LETTER + 4
#: Words may begin this far left of the first hoop.
_LEFT = 66.0
#: Breadth of a bold letter.
_BOLD = 1.12 * LETTER_BREADTH

Place = Callable[[HoopRow, Decimal | float], tuple[float, float]]


def _stairs(at: Sequence[float], words: Sequence[str]) -> list[int]:
    """A level for each label, whose words end at its line: over every line to the left that its words lie across."""
    levels: list[int] = []
    for place, label in zip(at, words, strict=True):
        left = place - len(label) * _BOLD - 4
        under = (level for other, level in zip(at, levels, strict=False) if other > left)
        levels.append(1 + max(under, default=-1))
    return levels


def _two_rows(at: Sequence[float], words: Sequence[str]) -> list[int | None]:
    """A level, 0 or 1, for each number that stands over the middle of its line; None where a neighbour's line or
    words leave no room."""
    levels: list[int | None] = []
    ends = [float("-inf")] * 2
    last = float("-inf")
    for place, label in zip(at, words, strict=True):
        half = len(label) * _BOLD / 2
        level = next((n for n, end in enumerate(ends) if end + 3 < place - half), None)
        if level is None or place - last < half + 2:
            levels.append(None)
            continue
        last, ends[level] = place, place + half
        levels.append(level)
    return levels


@dataclass(frozen=True)
class RidgeDrawing:
    """``rows`` by hoop, at least one. Heights are drawn from ``line``, ``scale`` times as large as lengths."""

    rows: Sequence[HoopRow]
    tolerance: Decimal
    line: str
    units: str

    @property
    def _run(self) -> float:
        """From the first hoop measured to the last; a bay of 1 m where there is one only."""
        return max(float(self.rows[-1].place - self.rows[0].place), 1000.0)

    @property
    def _low_high(self) -> tuple[float, float]:
        values = [self._y_of(row, name) for row in self.rows for name in ("line", "height", "height_after")]
        band = float(self.tolerance)
        return min(values) - band, max(values) + band

    @property
    def scale(self) -> float:
        """1, 2 or 5 times a power of ten, so large that the heights about fill their room."""
        low, high = self._low_high
        if high - low < 1e-6:
            return 1.0
        most = self._run * _HIGH / 280.0 / (high - low)
        best = 1e-6
        for power in range(-6, 7):
            for digit in (1, 2, 5):
                if digit * 10.0**power <= most:
                    best = max(best, digit * 10.0**power)
        return best

    @property
    def scale_words(self) -> str:
        scale = self.scale
        if scale == 1:
            return gettext("Heights and lengths to one scale.")
        if scale > 1:
            return gettext("Heights are drawn %(scale)s times larger than lengths along the house.") % {
                "scale": format_decimal(scale, 0)
            }
        return gettext("Heights are drawn %(scale)s times smaller than lengths along the house.") % {
            "scale": format_decimal(1 / scale, 0)
        }

    def _y_of(self, row: HoopRow, name: str) -> float:
        return float(getattr(row, name))

    def svg(self) -> SafeString:
        low, high = self._low_high
        scale, first = self.scale, float(self.rows[0].place)
        drawing = Drawing(self._run, (high - low) * scale, gettext("Ridge along the house"), self._description())

        def place(row: HoopRow, height: Decimal | float) -> tuple[float, float]:
            return float(row.place) - first, (float(height) - low) * scale

        self._band(drawing, place)
        drawing.polyline([place(row, row.height) for row in self.rows], "seen")
        drawing.polyline([place(row, row.height_after) for row in self.rows], "mark")
        for row in self.rows:
            x, y = place(row, row.height)
            if row.move:
                x2, y2 = place(row, row.height_after)
                drawing.line(x, y, x2, y2, "dash")
                drawing.circle(x2, y2, drawing.mm(4), "mark")
            drawing.circle(x, y, drawing.mm(3), "warn" if row.outside else "ink")
        self._labels(drawing, place, (high - low) * scale)
        self._numbers(drawing)
        return drawing.svg()

    def _band(self, drawing: Drawing, place: Place) -> None:
        """What lies within the tolerance, and the line wanted through it."""
        ends = (self.rows[0], self.rows[-1])
        band = float(self.tolerance)
        left, right = ends
        corners = [
            place(left, float(left.line) - band),
            place(right, float(right.line) - band),
            place(right, float(right.line) + band),
            place(left, float(left.line) + band),
        ]
        if left is right:
            corners = [(x, y) if at in (0, 3) else (self._run, y) for at, (x, y) in enumerate(corners)]
        drawing.polyline(corners, "fill limit", closed=True)
        start, end = place(left, left.line), place(right, right.line)
        drawing.line(*start, self._run if left is right else end[0], end[1], "thin")

    def _labels(self, drawing: Drawing, place: Place, top: float) -> None:
        """What to do with each hoop over the drawing, a thin line down to it; hoop numbers alone where words would
        climb too high."""
        shown = [row for row in self.rows if row.move or row.outside]
        at = [place(row, row.height)[0] * drawing.scale for row in shown]
        words = [
            label if x - len(label) * _BOLD > -_LEFT else str(row.hoop)
            for x, row, label in zip(at, shown, map(self._label, shown), strict=True)
        ]
        levels: list[int | None] = [*_stairs(at, words)]
        anchor = "end"
        if max(filter(None, levels), default=0) >= _MAX_LEVELS:
            words, anchor = [str(row.hoop) for row in shown], "middle"
            levels = _two_rows(at, words)
        labels = []
        for row, label, level in zip(shown, words, levels, strict=True):
            if level is None:
                continue
            x, _ = place(row, row.height)
            y = top + drawing.mm(10 + level * _LEVEL)
            drawing.line(x, place(row, max(row.height, row.height_after))[1] + drawing.mm(4), x, y, "thin")
            labels.append((x, y + drawing.mm(3), label, "warn" if row.outside else "mark"))
        # After the lines, so that none crosses words.
        for label in labels:
            drawing.text(*label, anchor=anchor)

    def _label(self, row: HoopRow) -> str:
        if not row.move:
            return gettext("%(hoop)s off") % {"hoop": row.hoop}
        way = gettext("%(hoop)s up %(length)s") if row.move > 0 else gettext("%(hoop)s down %(length)s")
        words = way % {"hoop": row.hoop, "length": length_text(abs(row.move), self.units)}
        return gettext("%(words)s, off") % {"words": words} if row.outside else words

    def _numbers(self, drawing: Drawing) -> None:
        """Numbers of hoops under the drawing, as many as there is room for."""
        first, last_right = float(self.rows[0].place), float("-inf")
        y = -drawing.mm(LETTER + 6)
        for row in self.rows:
            x = float(row.place) - first
            half = len(str(row.hoop)) * LETTER_BREADTH / 2
            if x * drawing.scale - half < last_right + 5:
                continue
            last_right = x * drawing.scale + half
            drawing.text(x, y, row.hoop)
            drawing.line(x, -drawing.mm(2), x, -drawing.mm(5), "thin")

    def _description(self) -> str:
        moves = []
        for row in self.rows:
            words = gettext("hoop %(hoop)s at %(height)s") % {
                "hoop": row.hoop,
                "height": length_text(row.height, self.units),
            }
            if row.move:
                way = gettext(", up %(length)s") if row.move > 0 else gettext(", down %(length)s")
                words += way % {"length": length_text(abs(row.move), self.units)}
            if row.outside:
                words += gettext(", stays off")
            moves.append(words)
        return gettext(
            "Ridge heights as measured, %(line)s wanted within %(tolerance)s, and the ridge after the "
            "moves: %(moves)s. %(scale_words)s"
        ) % {
            "line": self.line,
            "tolerance": length_text(self.tolerance, self.units),
            "moves": "; ".join(moves),
            "scale_words": self.scale_words,
        }
