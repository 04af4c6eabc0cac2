"""Scale drawings as SVG: ink lines, dimension lines as a draughtsman sets them, every number as text.

The model is in millimetres, y upwards, the width and height given at the start. On the sheet the drawing is 360 units
wide, about one unit a pixel on a phone, so letters keep one size whatever is drawn. Colours and line widths come from
the style sheet through classes: ink, thin, dash, fill, mark, warn.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from hashlib import sha1
from math import atan2, cos, degrees, hypot, pi, sin
from typing import SupportsFloat

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

Number = SupportsFloat
Point = Sequence[Number]
#: On the sheet.
Place = tuple[float, float]

SHEET_WIDTH = 360.0
MARGIN = 40.0
TALLEST = 420.0
#: Height of letters on the sheet and the usual breadth of one, for keeping room; the style sheet sets the real size.
LETTER = 13.0
LETTER_BREADTH = 0.56 * LETTER
_GAP, _BEYOND, _TICK, _LIFT = 3.0, 5.0, 4.5, 4.0
_PATH_PART = re.compile(r"([A-Za-z])|(-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_PATH_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4, "A": 7, "Z": 0}


def _breadth(words: str) -> float:
    return len(words) * LETTER_BREADTH


def _figure(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Drawing:
    """One drawing, ``width_mm`` by ``height_mm``; ``title`` names it, ``description`` says it in words
    with the numbers.

    ``tallest``: units on the sheet that the model may be high; ``scale``: units a millimetre, where drawings share one.

    What is drawn outside the model's box widens the sheet. ``step`` is the millimetres between two rows of dimension
    lines: ``offset=drawing.step`` is the first row, ``2 * drawing.step`` the second.
    """

    def __init__(
        self,
        width_mm: Number,
        height_mm: Number,
        title: str,
        description: str,
        *,
        tallest: float = TALLEST,
        scale: float | None = None,
    ) -> None:
        self.width, self.height = float(width_mm), float(height_mm)
        if self.width <= 0 or self.height < 0:
            raise ValueError("A drawing is wider than 0 mm and no less than 0 mm high.")
        self.title, self.description = title, description
        room = SHEET_WIDTH - 2 * MARGIN
        self.scale = scale or min(room / self.width, tallest / self.height if self.height else room)
        self.step = 26.0 / self.scale
        self._parts: list[str] = []
        self._links = 0
        self._box: list[float] | None = None
        self._cover(0.0, 0.0)
        self._cover(self.width * self.scale, -self.height * self.scale)
        self._whole = list(self._box or [])

    def mm(self, sheet_units: Number) -> float:
        """Millimetres of the model that take this many units (phone pixels) on the sheet."""
        return float(sheet_units) / self.scale

    # Shapes, in millimetres.

    def line(self, x1: Number, y1: Number, x2: Number, y2: Number, css: str = "ink") -> None:
        (ax, ay), (bx, by) = self._at(x1, y1), self._at(x2, y2)
        self._sheet_line(ax, ay, bx, by, css)

    def polyline(self, points: Iterable[Point], css: str = "ink", *, closed: bool = False) -> None:
        placed = [self._at(x, y) for x, y in points]
        text = " ".join(f"{_figure(x)},{_figure(y)}" for x, y in placed)
        self._add(format_html('<{} class="{}" points="{}"/>', "polygon" if closed else "polyline", css, text))

    def arc(self, cx: Number, cy: Number, radius: Number, start: Number, end: Number, css: str = "ink") -> None:
        """Part of a circle, anticlockwise from ``start`` to ``end``, degrees from the x direction."""
        first, last, r = float(start) * pi / 180, float(end) * pi / 180, float(radius)
        count = max(8, int(abs(last - first) / (pi / 60)))
        turns = (first + (last - first) * k / count for k in range(count + 1))
        self.polyline([(float(cx) + r * cos(turn), float(cy) + r * sin(turn)) for turn in turns], css)

    def path(self, d: str, css: str = "ink") -> None:
        """SVG path text with the capital commands M L H V C Q A Z, coordinates in millimetres, y upwards."""
        self._add(format_html('<path class="{}" d="{}"/>', css, self._placed_path(d)))

    def circle(self, cx: Number, cy: Number, radius: Number, css: str = "ink") -> None:
        x, y = self._at(cx, cy)
        r = float(radius) * self.scale
        self._cover(x - r, y - r)
        self._cover(x + r, y + r)
        self._add(format_html('<circle class="{}" cx="{}" cy="{}" r="{}"/>', css, _figure(x), _figure(y), _figure(r)))

    def rect(self, x: Number, y: Number, width: Number, height: Number, css: str = "ink") -> None:
        """``x``, ``y`` is the lower left corner."""
        left, top = self._at(x, float(y) + float(height))
        self._at(float(x) + float(width), y)
        wide, high = float(width) * self.scale, float(height) * self.scale
        self._add(
            format_html(
                '<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>',
                css, _figure(left), _figure(top), _figure(wide), _figure(high),
            )
        )  # fmt: skip

    def text(self, x: Number, y: Number, words: object, css: str = "", *, anchor: str = "middle") -> None:
        """``anchor``: start, middle or end. The letters stand on ``y``."""
        px, py = self._at(x, y)
        self._sheet_text(px, py, str(words), css, anchor)

    def dimension(
        self, x1: Number, y1: Number, x2: Number, y2: Number, text: object, offset: Number = 0, css: str = ""
    ) -> None:
        """A dimension line from point 1 to point 2, moved sideways by ``offset`` millimetres.

        Above 0 the line lies to the left of the way from 1 to 2 (above it, going right); below 0 to the right.
        Extension lines start short of the points and run past the line; short strokes mark its ends; the text stands
        over its middle, read from below or from the right. A second figure after " · " goes under the line where both
        do not fit over it. Text longer than its line stands beyond the second end, or, at a steep line, beside it.
        """
        (ax, ay), (bx, by) = self._at(x1, y1), self._at(x2, y2)
        run = hypot(bx - ax, by - ay)
        if run == 0:
            return
        ux, uy = (bx - ax) / run, (by - ay) / run
        # To the left of the way on the page, where y runs downwards.
        nx, ny = uy, -ux
        away = float(offset) * self.scale
        sign = -1.0 if away < 0 else 1.0
        start, end = (ax + nx * away, ay + ny * away), (bx + nx * away, by + ny * away)
        if abs(away) > _GAP:
            for px, py in ((ax, ay), (bx, by)):
                near, far = sign * _GAP, away + sign * _BEYOND
                self._sheet_line(px + nx * near, py + ny * near, px + nx * far, py + ny * far, "thin")
        for px, py in (start, end):
            tx, ty = (ux + nx) * _TICK / 1.4, (uy + ny) * _TICK / 1.4
            self._sheet_line(px - tx, py - ty, px + tx, py + ty, "tick")
        words = str(text)
        parts = [words] if _breadth(words) <= run - 4 else words.split(" · ", 1)
        fits = max(_breadth(part) for part in parts) <= run - 4
        kinds = f"dim {css}".strip()
        if not fits and abs(uy) > abs(ux):
            self._sheet_line(*start, *end, "thin")
            self._beside(start, end, sign * nx, parts, kinds)
            return
        reach = 0.0 if fits else max(_breadth(part) for part in parts) + 10
        self._sheet_line(*start, end[0] + ux * reach, end[1] + uy * reach, "thin")
        along = run / 2 if fits else run + reach / 2
        self._over(start[0] + ux * along, start[1] + uy * along, degrees(atan2(uy, ux)), parts, kinds)

    def _over(self, x: float, y: float, angle: float, parts: Sequence[str], css: str) -> None:
        """One text over the place as it is read, a second one under it."""
        if angle > 90 - 1e-9 or angle <= -90 - 1e-9:
            angle -= 180 if angle > 0 else -180
        lean = angle * pi / 180
        for lift, part in zip((_LIFT, -LETTER), parts, strict=False):
            self._sheet_text(x + sin(lean) * lift, y - cos(lean) * lift, part, css, "middle", angle)

    def _beside(self, start: Place, end: Place, out: float, parts: Sequence[str], css: str) -> None:
        """Level texts, one under the other, at the middle of a steep line, on its outer side."""
        x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        anchor = "start" if out > 0 else "end"
        for row, part in enumerate(parts):
            drop = (row - (len(parts) - 1) / 2) * (LETTER + 2) + LETTER * 0.35
            self._sheet_text(x + (6 if out > 0 else -6), y + drop, part, css, anchor)

    @contextmanager
    def link(self, href: str, label: str) -> Iterator[None]:
        """What is drawn inside leads to ``href``; ``label`` is read out for it."""
        outer, self._parts = self._parts, []
        outer_box, self._box = self._box, None
        try:
            yield
        finally:
            inner, box = self._parts, self._box
            self._parts, self._box = outer, outer_box
        hit = mark_safe("")
        if box:
            self._cover(box[0], box[1])
            self._cover(box[2], box[3])
            left, top, wide, high = _at_least(box, 24.0)
            hit = format_html(
                '<rect class="hit" x="{}" y="{}" width="{}" height="{}"/>',
                _figure(left), _figure(top), _figure(wide), _figure(high),
            )  # fmt: skip
        self._links += 1
        self._add(format_html('<a href="{}" aria-label="{}">{}{}</a>', href, label, hit, mark_safe("".join(inner))))

    @contextmanager
    def of(self, *names: str, quiet: bool = False) -> Iterator[None]:
        """What is drawn inside belongs to these fields of a form, which the page lights while one is filled in.

        ``quiet``: beside a form it stands there only then.
        """
        outer, self._parts = self._parts, []
        try:
            yield
        finally:
            inner, self._parts = self._parts, outer
        css = mark_safe(' class="quiet"') if quiet else ""
        self._add(format_html('<g{} data-field="{}">{}</g>', css, " ".join(names), mark_safe("".join(inner))))

    def svg(self) -> SafeString:
        """The whole drawing, safe to put on a page."""
        assert self._box is not None
        left, top, right, bottom = self._box
        left, right = min(left - 4, self._whole[0] - 4), max(right + 4, self._whole[2] + 4)
        spare = max(0.0, SHEET_WIDTH - (right - left))
        left, wide = left - spare / 2, right - left + spare
        top, high = top - 6, bottom - top + 12
        key = "d" + sha1(f"{self.title}\0{self.description}\0{self._parts}".encode()).hexdigest()[:10]
        return format_html(
            '<div class="{}"><svg xmlns="http://www.w3.org/2000/svg" viewBox="{} {} {} {}" role="{}"'
            ' aria-labelledby="{}-t" aria-describedby="{}-d"><title id="{}-t">{}</title><desc id="{}-d">{}</desc>'
            "{}</svg></div>",
            "drawing upright" if high > 0.8 * wide else "drawing",
            _figure(left), _figure(top), _figure(wide), _figure(high),
            # An image hides what is inside it from screen readers; links must stay within reach.
            "group" if self._links else "img",
            key, key, key, self.title, key, self.description,
            mark_safe("".join(self._parts)),
        )  # fmt: skip

    # On the sheet: units, y downwards.

    def _at(self, x: Number, y: Number) -> tuple[float, float]:
        px, py = float(x) * self.scale, -float(y) * self.scale
        self._cover(px, py)
        return px, py

    def _cover(self, x: float, y: float) -> None:
        box = self._box
        self._box = [x, y, x, y] if box is None else [min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)]

    def _add(self, part: str) -> None:
        self._parts.append(part)

    def _sheet_line(self, x1: float, y1: float, x2: float, y2: float, css: str) -> None:
        self._cover(x1, y1)
        self._cover(x2, y2)
        places = (_figure(value) for value in (x1, y1, x2, y2))
        self._add(format_html('<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>', css, *places))

    def _sheet_text(self, x: float, y: float, words: str, css: str, anchor: str, angle: float = 0.0) -> None:
        breadth = _breadth(words)
        start = {"start": 0.0, "middle": -breadth / 2, "end": -breadth}[anchor]
        lean = angle * pi / 180
        for along in (start, start + breadth):
            for up in (3.0, -LETTER):
                self._cover(x + along * cos(lean) - up * sin(lean), y + along * sin(lean) + up * cos(lean))
        turn = (
            format_html(' transform="rotate({} {} {})"', _figure(angle), _figure(x), _figure(y))
            if abs(angle) > 0.01
            else ""
        )
        kinds = f"{anchor} {css}".strip()
        self._add(
            format_html(
                '<text class="{}" x="{}" y="{}"{}>{}</text>',
                kinds,
                _figure(x),
                _figure(y),
                turn,
                conditional_escape(words),
            )
        )

    def _placed_path(self, d: str) -> str:
        out: list[str] = []
        command, figures = "", []
        for letter, figure in _PATH_PART.findall(d):
            if letter:
                if letter not in _PATH_COUNTS:
                    raise ValueError(f"A path is drawn with {' '.join(_PATH_COUNTS)}, not {letter}.")
                if figures:
                    raise ValueError(f"{command} in a path is short of figures.")
                command = letter
                if letter == "Z":
                    out.append("Z")
                continue
            figures.append(float(figure))
            if command and len(figures) == _PATH_COUNTS[command]:
                out.append(self._placed_command(command, figures))
                figures = []
        if figures:
            raise ValueError(f"{command or 'The start'} in a path is short of figures.")
        return " ".join(out)

    def _placed_command(self, command: str, figures: list[float]) -> str:
        if command == "H":
            return f"H{_figure(figures[0] * self.scale)}"
        if command == "V":
            return f"V{_figure(-figures[0] * self.scale)}"
        if command == "A":
            rx, ry, turn, large, sweep, x, y = figures
            px, py = self._at(x, y)
            radii = f"{_figure(rx * self.scale)} {_figure(ry * self.scale)} {_figure(-turn)}"
            # Turning the page upside down turns the sense of an arc.
            return f"A{radii} {int(large)} {1 - int(sweep)} {_figure(px)} {_figure(py)}"
        pairs = zip(figures[::2], figures[1::2], strict=True)
        return command + " ".join(f"{_figure(px)} {_figure(py)}" for px, py in (self._at(x, y) for x, y in pairs))


def _at_least(box: Sequence[float], size: float) -> tuple[float, float, float, float]:
    """Left, top, width, height of the box, widened about its middle to ``size`` each way."""
    wide, high = max(box[2] - box[0], size), max(box[3] - box[1], size)
    return (box[0] + box[2] - wide) / 2, (box[1] + box[3] - high) / 2, wide, high
