"""What a drawing is made of, whatever it is written as: strokes, circles, words and dimensions.

A view is drawn at full size, in mm, y upwards. Words, and the distance that a dimension stands off, are sizes on the
paper, so a pen knows the scale of its view. A bulge is that of DXF: the tangent of a quarter of the angle that the
stroke turns up to the next point, above zero to the left.
"""

from __future__ import annotations

import itertools
import math
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Layer(StrEnum):
    """By what each thing is; a reader of the DXF file may turn each off."""

    PIPE = "pipe"
    POSTS = "posts"
    PURLINS = "purlins"
    BOARDS = "boards"
    FRAME = "frame"
    DOORS = "doors"
    FILM = "film"
    SCREWS = "screws"
    PERSON = "person"
    MARKS = "marks"
    CENTRE = "centre lines"
    GROUND = "ground"
    DIMENSIONS = "dimensions"
    TEXT = "text"
    SHEET = "sheet"


class Line(StrEnum):
    """Kinds of ISO 128: what is cut, what is seen, thin lines, what is hidden, centre lines."""

    CUT = "cut"
    SEEN = "seen"
    THIN = "thin"
    HIDDEN = "hidden"
    CENTRE = "centre"


#: mm on the paper, the ratio of ISO 128.
BREADTH = {Line.CUT: 0.5, Line.SEEN: 0.35, Line.THIN: 0.18, Line.HIDDEN: 0.25, Line.CENTRE: 0.18}
#: Lines closer than this on the paper run into one, so a pipe is drawn as its centre line there.
CLOSEST = 0.7
#: Height of capitals, mm: ISO 3098 has 2.5 and 3.5.
LETTER, HEAD = 2.5, 3.5
#: Breadth of a letter over the height of capitals: 0.602 em over 0.729 em in the letters of the sheets.
LETTER_BREADTH = 0.826


@dataclass(frozen=True)
class Stroke:
    """``points``: (x, y, bulge)."""

    layer: Layer
    points: tuple[tuple[float, float, float], ...]
    closed: bool = False
    line: Line = Line.SEEN


@dataclass(frozen=True)
class Bar:
    """A pipe, post or board along its centre line, as broad as it is. On paper it may be too thin for two lines."""

    layer: Layer
    points: tuple[tuple[float, float, float], ...]
    breadth: float
    line: Line = Line.SEEN
    #: Its centre line is drawn too.
    centred: bool = False

    def outline(self) -> Stroke:
        return Stroke(self.layer, _both_sides(self.points, self.breadth / 2), closed=True, line=self.line)

    def centre(self, line: Line) -> Stroke:
        return Stroke(self.layer, self.points, line=line)


@dataclass(frozen=True)
class Round:
    layer: Layer
    x: float
    y: float
    radius: float
    line: Line = Line.SEEN


@dataclass(frozen=True)
class Words:
    """From its baseline at ``x``, ``y``; ``anchor`` is start, middle or end. ``turned``: upwards."""

    layer: Layer
    x: float
    y: float
    text: str
    height: float = LETTER
    anchor: str = "start"
    turned: bool = False


@dataclass(frozen=True)
class Size:
    """A dimension from one point to another; ``off`` mm of paper to the left of that way."""

    x1: float
    y1: float
    x2: float
    y2: float
    off: float
    text: str

    @property
    def length(self) -> float:
        return math.hypot(self.x2 - self.x1, self.y2 - self.y1)


Thing = Stroke | Bar | Round | Words | Size


def _turn(bulge: float) -> float:
    return 4 * math.atan(bulge)


def _both_sides(points: Sequence[tuple[float, float, float]], out: float) -> tuple[tuple[float, float, float], ...]:
    """Once along the left side and back along the right. Where a straight meets an arc the way is the same."""
    ways: list[float] = []
    for (x1, y1, bulge), (x2, y2, _) in itertools.pairwise(points):
        ways.append(math.atan2(y2 - y1, x2 - x1) - _turn(bulge) / 2)
    last = points[-2][2]
    ways.append(ways[-1] + _turn(last))
    bulges = [bulge for _, _, bulge in points[:-1]]
    left = [(x - out * math.sin(way), y + out * math.cos(way)) for (x, y, _), way in zip(points, ways, strict=True)]
    right = [(x + out * math.sin(way), y - out * math.cos(way)) for (x, y, _), way in zip(points, ways, strict=True)]
    there = [(x, y, bulge) for (x, y), bulge in zip(left, [*bulges, 0.0], strict=True)]
    back = [(x, y, -bulge) for (x, y), bulge in zip(reversed(right), [*reversed(bulges), 0.0], strict=True)]
    return (*there, *back)


#: No line breaks between the parts of a length, and its unit.
_WITHIN_LENGTH = re.compile(r"(?<=[\d'\"]) (?=\d|\(\d|mm\b|m\b)")


def one_line(text: str) -> str:
    """As it is typed, but for line ends and what cannot be seen, which stand as one space."""
    spaced = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in text)
    return " ".join(part for part in spaced.split(" ") if part)


def cells(text: str) -> int:
    """How many letters broad it is; those of East Asia take two, accents that stand on another none."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def breadth_of(text: str, height: float = LETTER) -> float:
    """mm on the paper."""
    return cells(text) * height * LETTER_BREADTH


def wrapped(text: str, room: float, height: float = LETTER) -> list[str]:
    """In lines that fit ``room`` mm of paper; a word that is longer than a line is broken, and nothing is left out."""
    most = max(4, int(room / (height * LETTER_BREADTH)))
    lines, line = [], ""
    for word in _WITHIN_LENGTH.sub("\0", one_line(text)).split(" "):
        while cells(word) > most:
            head = _head(word, most - (cells(line) + 1 if line else 0))
            if head:
                line, word = f"{line} {head}".strip(), word[len(head) :]
            if line:
                lines.append(line)
            line = ""
        if line and cells(line) + 1 + cells(word) > most:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return [found.replace("\0", " ") for found in ([*lines, line] if line or not lines else lines)]


def _head(word: str, room: int) -> str:
    """As much of it as fits; nothing where that is less than four letters."""
    head = ""
    for c in word:
        if cells(head + c) > room:
            break
        head += c
    return head if cells(head) >= 4 else ""


@dataclass
class Pen:
    """Draws one view at 1 : ``scale``."""

    scale: float
    things: list[Thing] = field(default_factory=list)
    #: Of the next things, mm.
    shift: tuple[float, float] = (0.0, 0.0)

    def mm(self, paper: float) -> float:
        """So much on the paper, at full size."""
        return paper * self.scale

    def _at(self, points: Iterable[tuple[float, ...]]) -> tuple[tuple[float, float, float], ...]:
        dx, dy = self.shift
        return tuple((x + dx, y + dy, bulge[0] if bulge else 0.0) for x, y, *bulge in points)

    def line(self, layer: Layer, x1: float, y1: float, x2: float, y2: float, line: Line = Line.SEEN) -> None:
        self.path(layer, [(x1, y1), (x2, y2)], line=line)

    def path(
        self, layer: Layer, points: Iterable[tuple[float, ...]], *, closed: bool = False, line: Line = Line.SEEN
    ) -> None:
        self.things.append(Stroke(layer, self._at(points), closed, line))

    def rect(self, layer: Layer, x: float, y: float, wide: float, high: float, line: Line = Line.SEEN) -> None:
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        self.path(layer, corners, closed=True, line=line)

    def bar(
        self,
        layer: Layer,
        points: Iterable[tuple[float, ...]],
        breadth: float,
        *,
        line: Line = Line.SEEN,
        centred: bool = False,
    ) -> None:
        self.things.append(Bar(layer, self._at(points), breadth, line, centred))

    def circle(self, layer: Layer, x: float, y: float, radius: float, line: Line = Line.SEEN) -> None:
        dx, dy = self.shift
        self.things.append(Round(layer, x + dx, y + dy, radius, line))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        height: float = LETTER,
        anchor: str = "start",
        layer: Layer = Layer.TEXT,
        turned: bool = False,
    ) -> None:
        dx, dy = self.shift
        self.things.append(Words(layer, x + dx, y + dy, one_line(words), height, anchor, turned))

    def size(self, x1: float, y1: float, x2: float, y2: float, off: float, words: str) -> None:
        dx, dy = self.shift
        self.things.append(Size(x1 + dx, y1 + dy, x2 + dx, y2 + dy, off, words))

    def ground(self, x1: float, x2: float, y: float = 0.0) -> None:
        """The ground from ``x1`` to ``x2``, hatched below."""
        self.line(Layer.GROUND, x1, y, x2, y, Line.CUT)
        step, deep = self.mm(6), self.mm(2)
        for n in range(int((x2 - x1 - deep) / step) + 1):
            for beside in (0.0, self.mm(1.2), self.mm(2.4)):
                x = x1 + n * step + deep + beside
                if x <= x2:
                    self.line(Layer.GROUND, x, y, x - deep, y - deep, Line.THIN)


def arc_bulge(turn: float) -> float:
    """Of a stroke that turns to the right by so many radians, as a hoop does from its left foot."""
    return -math.tan(turn / 4)
