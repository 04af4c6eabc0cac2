"""Scale drawings as SVG: ink lines, dimension lines as a draughtsman sets them, every number as text.

The model is in millimetres, y upwards, the width and height given at the start. On the sheet the drawing is 360 units
wide, about one unit a pixel on a phone, so letters keep one size whatever is drawn. Colours and line widths come from
the style sheet through classes, three weights after ISO 128, the same on every screen, in the dark and on paper:

    cut, ink    2 px      what is cut through, and outlines
    seen        1.2 px    edges behind the cut
    thin        0.6 px    dimension lines, hatching, what is wanted
    dash        1.2 px    dashed: not there yet, or an offcut
    axis        0.6 px    dash and dot: a centre line
    limit       1.2 px    dash and dot: a limit
    today       3 px      the tick of today, with the word
    mark, warn  2 px      marks on pipe in the accent; what is wrong, in amber

``fill`` beside one of them shades what it encloses. Words stand 3 px clear of lines; where they must lie on lines drawn
before them, these are broken.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from hashlib import sha1
from html import escape
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, sin
from typing import SupportsFloat

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.common.markup import escaped, markup
from farmbuild.common.scale import bar_length, on_paper
from farmbuild.measure import UnitSystem

Number = SupportsFloat
Point = Sequence[Number]
#: On the sheet.
Place = tuple[float, float]
Segment = tuple[float, float, float, float]

SHEET_WIDTH = 360.0
MARGIN = 40.0
TALLEST = 420.0
#: Height of letters on the sheet and the usual breadth of one, for keeping room; the style sheet sets the real size.
LETTER = 13.0
LETTER_BREADTH = 0.56 * LETTER
#: Room for a drawing on a sheet of A4 or Letter, mm wide and high.
PAPER = (170.0, 170.0)
#: A person to see the size by: 5 ft 8 in, mm.
PERSON = 1727.2
#: Narrower than this many pixels, a double line is one.
NARROW = 6.0
_GAP, _BEYOND, _TICK = 3.0, 5.0, 4.5
#: In letters, so that they shrink with them: over a line, under it, from line to line of words, and what letters take.
_OVER, _UNDER, _PITCH, _ASCENT, _DESCENT = -0.48, 1.02, 1.2, 0.78, 0.23
#: Widths of a drawing on the page from which its letters are smaller, as in the style sheet.
_WIDTHS = (460, 600, 760)
_HATCH, _HATCH_PITCH = 6.0, 7.0
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
    ``units``: the reader's, for a drawing to scale both ways: it gets a scale bar, and the ratio at which it is printed
    in ``paper``, mm wide and high, at most.

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
        units: UnitSystem | str = "",
        paper: tuple[float, float] = PAPER,
    ) -> None:
        self.width, self.height = float(width_mm), float(height_mm)
        if self.width <= 0 or self.height < 0:
            raise ValueError("A drawing is wider than 0 mm and no less than 0 mm high.")
        self.title, self.description = title, description
        room = SHEET_WIDTH - 2 * MARGIN
        self.scale = scale or min(room / self.width, tallest / self.height if self.height else room)
        self.step = 26.0 / self.scale
        self._units, self._paper = UnitSystem(units) if units else None, paper
        self._parts: list[str] = []
        self._segments: list[Segment] = []
        self._links = 0
        #: On paper as if it were so high, for the ratio of another beside it.
        self._as_high = 0.0
        self._origin = (0.0, 0.0)
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
        self._crossing([*placed, placed[0]] if closed else placed)
        text = " ".join(f"{_figure(x)},{_figure(y)}" for x, y in placed)
        self._add(f'<{"polygon" if closed else "polyline"} class="{escape(css)}" points="{text}"/>')

    def arc(self, cx: Number, cy: Number, radius: Number, start: Number, end: Number, css: str = "ink") -> None:
        """Part of a circle, anticlockwise from ``start`` to ``end``, degrees from the x direction."""
        first, last, r = float(start) * pi / 180, float(end) * pi / 180, float(radius)
        count = max(8, int(abs(last - first) / (pi / 60)))
        turns = (first + (last - first) * k / count for k in range(count + 1))
        self.polyline([(float(cx) + r * cos(turn), float(cy) + r * sin(turn)) for turn in turns], css)

    def path(self, d: str, css: str = "ink") -> None:
        """SVG path text with the capital commands M L H V C Q A Z, coordinates in millimetres, y upwards."""
        self._add(markup('<path class="{}" d="{}"/>', css, self._placed_path(d)))

    def circle(self, cx: Number, cy: Number, radius: Number, css: str = "ink") -> None:
        x, y = self._at(cx, cy)
        r = float(radius) * self.scale
        self._cover(x - r, y - r)
        self._cover(x + r, y + r)
        self._add(f'<circle class="{escape(css)}" cx="{_figure(x)}" cy="{_figure(y)}" r="{_figure(r)}"/>')

    def placed(self, x: Number, y: Number, wide: float, high: float, marks: SafeString) -> None:
        """Markup in units of the sheet, made before: its upper left corner there, so many units wide and high."""
        left, top = self._at(x, y)
        self._cover(left + wide, top + high)
        self._add(markup('<g transform="translate({} {})">{}</g>', _figure(left), _figure(top), marks))

    def rect(self, x: Number, y: Number, width: Number, height: Number, css: str = "ink") -> None:
        """``x``, ``y`` is the lower left corner."""
        left, top = self._at(x, float(y) + float(height))
        self._at(float(x) + float(width), y)
        wide, high = float(width) * self.scale, float(height) * self.scale
        right, low = left + wide, top + high
        self._crossing([(left, top), (right, top), (right, low), (left, low), (left, top)])
        size = f'width="{_figure(wide)}" height="{_figure(high)}"'
        self._add(f'<rect class="{escape(css)}" x="{_figure(left)}" y="{_figure(top)}" {size}/>')

    def bar(self, x: Number, y: Number, width: Number, height: Number, css: str = "fill") -> None:
        """A post, board or stick as ``rect``; its centre line alone where it is narrower than 6 px on the page."""
        wide, high = float(width), float(height)
        breadth = min(wide, high) * self.scale
        middle = (float(x) + wide / 2, float(y) + high / 2)
        half = (wide / 2, 0.0) if wide > high else (0.0, high / 2)
        ends = (middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1])
        if breadth >= NARROW:
            self.rect(x, y, wide, high, css)
            return
        kinds = "cut" if css == "fill" else css.replace("fill", "").strip() or "cut"
        at = next((width for width in _WIDTHS if breadth * width / SHEET_WIDTH >= NARROW), None)
        if at is None:
            self.line(*ends, kinds)
            return
        self.line(*ends, f"{kinds} to-{at}")
        self.rect(x, y, wide, high, f"{css} from-{at}")

    def ground(self, x1: Number, x2: Number, y: Number = 0) -> None:
        """The ground line with its hatching under it, strokes at 45°."""
        (left, level), (right, _) = self._at(x1, y), self._at(x2, y)
        strokes, x = [], left + _HATCH
        while x <= right:
            strokes.append(f"M{_figure(x)} {_figure(level)}L{_figure(x - _HATCH)} {_figure(level + _HATCH)}")
            x += _HATCH_PITCH
        self._cover(left, level + _HATCH)
        self._segments.append((left, level + _HATCH / 2, right, level + _HATCH / 2))
        self._add(markup('<path class="thin hatch" d="{}"/>', " ".join(strokes)))
        self._sheet_line(left, level, right, level, "cut")

    def hatched(self, x: Number, y: Number, width: Number, height: Number, css: str = "thin") -> None:
        """Strokes at 45° across a rectangle, without its outline; ``x``, ``y`` is the lower left corner."""
        (left, low), (right, top) = self._at(x, y), self._at(float(x) + float(width), float(y) + float(height))
        strokes, start = [], left - (low - top) + _HATCH_PITCH
        while start < right:
            # From the foot at ``start`` up to the right, as far as it lies inside.
            near, far = max(0.0, left - start), min(low - top, right - start)
            if far > near:
                a, b = (start + near, low - near), (start + far, low - far)
                strokes.append(f"M{_figure(a[0])} {_figure(a[1])}L{_figure(b[0])} {_figure(b[1])}")
            start += _HATCH_PITCH
        self._add(markup('<path class="{} hatch" d="{}"/>', css, " ".join(strokes)))

    def today(self, x: Number, low: Number, high: Number, words: str, *, anchor: str = "start") -> None:
        """A bold tick under ``low`` with its words under that, and a thin line from it up to ``high``."""
        self.line(x, low, x, high, "thin")
        self.line(x, low, x, float(low) - self.mm(9), "today")
        px, py = self._at(x, float(low) - self.mm(9))
        self._sheet_text(px, py, words, "today", anchor, 0.0, _UNDER)

    def person(self, x: Number, y: Number = 0) -> None:
        """Somebody of 5 ft 8 in standing at ``x`` on ``y``, to scale, in thin lines."""
        px, foot, tall = float(x), float(y), PERSON
        head, hip, shoulder = 0.065 * tall, foot + 0.48 * tall, foot + 0.81 * tall
        outer, self._parts = self._parts, []
        self.circle(px, foot + tall - head, head, "seen")
        self.line(px, foot + tall - 2 * head, px, hip, "seen")
        for side in (-1, 1):
            self.line(px, hip, px + side * 0.08 * tall, foot, "seen")
            self.line(px, shoulder, px + side * 0.11 * tall, foot + 0.45 * tall, "seen")
        inner, self._parts = self._parts, outer
        self._add(markup('<g class="person">{}</g>', mark_safe("".join(inner))))

    def text(self, x: Number, y: Number, words: object, css: str = "", *, anchor: str = "middle") -> None:
        """``anchor``: start, middle or end. The letters stand on ``y``."""
        px, py = self._at(x, y)
        self._sheet_text(px, py, str(words), css, anchor)

    def dimension(
        self,
        x1: Number,
        y1: Number,
        x2: Number,
        y2: Number,
        text: object,
        offset: Number = 0,
        css: str = "",
        *,
        href: str = "",
        label: str = "",
    ) -> None:
        """A dimension line from point 1 to point 2, moved sideways by ``offset`` millimetres.

        Above 0 the line lies to the left of the way from 1 to 2 (above it, going right); below 0 to the right.
        Extension lines start short of the points and run past the line; short strokes mark its ends; the text stands
        over its middle, read from below or from the right; ``href``: it leads there, read out as ``label``. A second
        figure after " · " goes under the line where both do not fit over it. Text longer than its line stands beyond
        the second end, or, at a steep line, beside it.
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
            with self._leading(href, label):
                self._beside(start, end, sign * nx, parts, kinds)
            return
        reach = 0.0 if fits else max(_breadth(part) for part in parts) + 10
        self._sheet_line(*start, end[0] + ux * reach, end[1] + uy * reach, "thin")
        along = run / 2 if fits else run + reach / 2
        with self._leading(href, label):
            self._over(start[0] + ux * along, start[1] + uy * along, degrees(atan2(uy, ux)), parts, kinds)

    def _leading(self, href: str, label: str) -> AbstractContextManager[None]:
        return self.link(href, label) if href else nullcontext()

    def _over(self, x: float, y: float, angle: float, parts: Sequence[str], css: str) -> None:
        """One text over the place as it is read, a second one under it."""
        if angle > 90 - 1e-9 or angle <= -90 - 1e-9:
            angle -= 180 if angle > 0 else -180
        for drop, part in zip((_OVER, _UNDER), parts, strict=False):
            self._sheet_text(x, y, part, css, "middle", angle, drop)

    def _beside(self, start: Place, end: Place, out: float, parts: Sequence[str], css: str) -> None:
        """Level texts, one under the other, at the middle of a steep line, on its outer side."""
        x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        anchor = "start" if out > 0 else "end"
        for row, part in enumerate(parts):
            drop = (row - (len(parts) - 1) / 2) * _PITCH + 0.35
            self._sheet_text(x + (6 if out > 0 else -6), y, part, css, anchor, 0.0, drop)

    @contextmanager
    def moved(self, x: Number, y: Number) -> Iterator[None]:
        """What is drawn inside has its origin at ``x``, ``y``: a second view in projection with the first."""
        outer = self._origin
        self._origin = (outer[0] + float(x), outer[1] + float(y))
        try:
            yield
        finally:
            self._origin = outer

    @contextmanager
    def turned(self, x: Number, y: Number, clockwise: float) -> Iterator[None]:
        """Shapes drawn inside have their origin at ``x``, ``y`` and are turned about it by so many degrees."""
        px, py = self._at(x, y)
        kept = self._parts, self._box, self._segments, self._origin
        self._parts, self._box, self._segments, self._origin = [], None, [], (0.0, 0.0)
        try:
            yield
        finally:
            inner, box, lines = self._parts, self._box, self._segments
            self._parts, self._box, self._segments, self._origin = kept
        turn = clockwise * pi / 180

        def outside(a: float, b: float) -> Place:
            return px + a * cos(turn) - b * sin(turn), py + a * sin(turn) + b * cos(turn)

        for a, b in ((box[i], box[j]) for i in (0, 2) for j in (1, 3)) if box else ():
            self._cover(*outside(a, b))
        self._segments.extend((*outside(ax, ay), *outside(bx, by)) for ax, ay, bx, by in lines)
        place = map(_figure, (px, py, clockwise))
        drawn = mark_safe("".join(inner))
        self._add(markup('<g transform="translate({} {}) rotate({})">{}</g>', *place, drawn))

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
            hit = markup(
                '<rect class="hit" x="{}" y="{}" width="{}" height="{}"/>',
                _figure(left), _figure(top), _figure(wide), _figure(high),
            )  # fmt: skip
        self._links += 1
        self._add(markup('<a href="{}" aria-label="{}">{}{}</a>', href, label, hit, mark_safe("".join(inner))))

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
        self._add(markup('<g{} data-field="{}">{}</g>', css, " ".join(names), mark_safe("".join(inner))))

    def svg(self) -> SafeString:
        """The whole drawing, safe to put on a page."""
        parts, size = list(self._parts), mark_safe("")
        left, top, wide, high = self._sheet()
        description = self.description
        if self._units:
            high += self._scale_room
            paper = on_paper(wide, max(high, self._as_high), self.scale, self._units, self._paper, LETTER)
            ratio = f"1 : {paper.ratio}"
            parts.append(self._scale_line(left, top, wide, high, ratio))
            told = gettext("Scale %(ratio)s when printed at 100 %%.") % {"ratio": ratio}
            description = f"{description} {told}".strip()
            size = markup(' class="scaled" width="{}mm"', _figure(paper.width))
            parts = [markup('<g class="letters" font-size="{}">', _figure(paper.letter)), *parts, "</g>"]
        key = "d" + sha1(f"{self.title}\0{self.description}\0{self._parts}".encode()).hexdigest()[:10]
        kinds = ["drawing", "upright" if high > 0.8 * wide else "", "scaled" if self._units else ""]
        return markup(
            '<div class="{}"><svg xmlns="http://www.w3.org/2000/svg"{} viewBox="{} {} {} {}" role="{}"'
            ' aria-labelledby="{}-t" aria-describedby="{}-d"><title id="{}-t">{}</title><desc id="{}-d">{}</desc>'
            "{}</svg></div>",
            " ".join(filter(None, kinds)),
            size,
            _figure(left), _figure(top), _figure(wide), _figure(high),
            # An image hides what is inside it from screen readers; links must stay within reach.
            "group" if self._links else "img",
            key, key, key, self.title, key, description,
            mark_safe("".join(parts)),
        )  # fmt: skip

    #: Units of the sheet under the drawing for bar and ratio.
    _scale_room = 24.0

    def _sheet(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of what is drawn, at least as wide as a sheet, with a margin."""
        assert self._box is not None
        left, top, right, bottom = self._box
        left, right = min(left - 4, self._whole[0] - 4), max(right + 4, self._whole[2] + 4)
        spare = max(0.0, SHEET_WIDTH - (right - left))
        return left - spare / 2, top - 6, right - left + spare, bottom - top + 12

    def _scale_line(self, left: float, top: float, wide: float, high: float, ratio: str) -> str:
        """A bar of a round length in two halves, the first one full, and the ratio that paper has."""
        assert self._units is not None
        length = bar_length(self.scale, self._units)
        long, x, y = length * self.scale, left + 4, top + high - 6
        halves = (
            markup(
                '<rect class="{}" x="{}" y="{}" width="{}" height="4"/>', kinds, *map(_figure, (at, y - 4, long / 2))
            )
            for kinds, at in (("scale-bar fill", x), ("scale-bar", x + long / 2))
        )
        words = (("start", x + long + 6, length_text(length, self._units)), ("end", left + wide - 4, _printed(ratio)))
        texts = (
            markup('<text class="{}" x="{}" y="{}">{}</text>', anchor, _figure(at), _figure(y), said)
            for anchor, at, said in words
        )
        inner = mark_safe("".join((*halves, *texts)))
        return markup('<g class="scale" data-ratio="{}" data-mm="{}">{}</g>', ratio, _figure(length), inner)

    # On the sheet: units, y downwards.

    def _at(self, x: Number, y: Number) -> tuple[float, float]:
        px, py = (float(x) + self._origin[0]) * self.scale, -(float(y) + self._origin[1]) * self.scale
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
        if css != "tick":
            self._segments.append((x1, y1, x2, y2))
        ends = f'x1="{_figure(x1)}" y1="{_figure(y1)}" x2="{_figure(x2)}" y2="{_figure(y2)}"'
        self._add(f'<line class="{escape(css)}" {ends}/>')

    def _sheet_text(
        self, x: float, y: float, words: str, css: str, anchor: str, angle: float = 0.0, drop: float = 0.0
    ) -> None:
        """``drop``: in letters, how far the words stand under the place, as they are read."""
        breadth = _breadth(words)
        start = {"start": 0.0, "middle": -breadth / 2, "end": -breadth}[anchor]
        lean = angle * pi / 180
        low, high = (drop + _DESCENT) * LETTER, (drop - _ASCENT) * LETTER
        for along in (start, start + breadth):
            for down in (low, high):
                self._cover(x + along * cos(lean) - down * sin(lean), y + along * sin(lean) + down * cos(lean))
        turn = f' transform="rotate({_figure(angle)} {_figure(x)} {_figure(y)})"' if abs(angle) > 0.01 else ""
        if _crossed(self._segments, (x, y), lean, (start, high, start + breadth, low)):
            self._add(_break(x, y, angle, start / LETTER, drop, breadth / LETTER))
        away = f' dy="{_figure(drop)}em"' if drop else ""
        kinds, place = f"{anchor} {css}".strip(), f'x="{_figure(x)}" y="{_figure(y)}"'
        self._add(f'<text class="{escape(kinds)}" {place}{away}{turn}>{escaped(words)}</text>')

    def _crossing(self, points: Sequence[Place]) -> None:
        """Words that come after and lie over this line break it."""
        self._segments.extend((*a, *b) for a, b in pairwise(points))

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
            return f"H{_figure((figures[0] + self._origin[0]) * self.scale)}"
        if command == "V":
            return f"V{_figure(-(figures[0] + self._origin[1]) * self.scale)}"
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


def as_wide(*drawings: Drawing) -> None:
    """Drawings of one scale made equally wide, so that they keep it where they are shown so, and on paper."""
    boxes = [drawing._box for drawing in drawings if drawing._box]
    left, right = min(box[0] for box in boxes), max(box[2] for box in boxes)
    for box in boxes:
        box[0], box[2] = left, right
    highest = max(drawing._sheet()[3] + drawing._scale_room for drawing in drawings)
    for drawing in drawings:
        drawing._as_high = highest


def _printed(ratio: str) -> str:
    return gettext("%(ratio)s printed at 100 %%") % {"ratio": ratio}


def _crossed(segments: Iterable[Segment], at: Place, lean: float, box: Sequence[float]) -> bool:
    """Whether any line runs through words: ``box`` about ``at`` as they are read, leaning by ``lean``."""
    x, y = at
    cosine, sine = cos(lean), sin(lean)
    left, top, right, low = box
    for x1, y1, x2, y2 in segments:
        ax, ay = (x1 - x) * cosine + (y1 - y) * sine, (y1 - y) * cosine - (x1 - x) * sine
        bx, by = (x2 - x) * cosine + (y2 - y) * sine, (y2 - y) * cosine - (x2 - x) * sine
        # Most lines lie wholly on one side of the words.
        if (ax <= left and bx <= left) or (ax >= right and bx >= right):
            continue
        if (ay <= top and by <= top) or (ay >= low and by >= low):
            continue
        if _crosses(ax, ay, bx, by, box):
            return True
    return False


def _crosses(ax: float, ay: float, bx: float, by: float, box: Sequence[float]) -> bool:
    """Whether a line goes through a box: its sides are level and upright."""
    first, last = 0.0, 1.0
    # What is left of the line between each pair of opposite sides (Liang and Barsky 1984).
    for start, way, low, high in ((ax, bx - ax, box[0], box[2]), (ay, by - ay, box[1], box[3])):
        if not way:
            if not low < start < high:
                return False
            continue
        near, far = sorted(((low - start) / way, (high - start) / way))
        first, last = max(first, near), min(last, far)
    return first < last


def _break(x: float, y: float, angle: float, start: float, drop: float, breadth: float) -> SafeString:
    """Paper under words, as large as their letters are, so that lines under them are broken."""
    ems = (start - 0.2, drop - _ASCENT - 0.1, breadth + 0.4, _ASCENT + _DESCENT + 0.2)
    paper = markup('<rect class="gap" x="{}em" y="{}em" width="{}em" height="{}em"/>', *map(_figure, ems))
    place = map(_figure, (x, y, angle))
    return markup('<g transform="translate({} {}) rotate({})">{}</g>', *place, paper)
