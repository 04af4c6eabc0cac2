"""Sheets with a frame, a title block and views in boxes: each at the largest standard scale that fits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from django.utils.translation import gettext, pgettext

from farmbuild.common.speaking import said
from farmbuild.drawings.pen import HEAD, LETTER, Layer, Line, Pen, Thing, wrapped
from farmbuild.drawings.scales import Paper, scale_for, scale_text
from farmbuild.drawings.view import Say, View
from farmbuild.measure import UnitSystem
from farmbuild.measure.speech import gettext_noop as _

#: mm of paper under each view for its name, scale and bar, and around each view.
_LABEL, _GAP = 13.0, 3.0
#: Of the title block, mm; ISO 7200 has 180.
_BLOCK, _STAMP = 180.0, 66.0
_FOOT = 304.8

Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Placed:
    """A view in its box on the paper; ``x``, ``y``: where its 0, 0 comes to lie there. All mm."""

    view: View
    box: Box
    scale: int
    x: float
    y: float
    things: tuple[Thing, ...]


@dataclass(frozen=True)
class Sheet:
    """``paper``: what is drawn on the sheet itself, in mm of paper."""

    title: str
    views: tuple[Placed, ...]
    paper: tuple[Thing, ...]
    scale: str


@dataclass(frozen=True)
class Block:
    """What stands in every title block, and beside it."""

    house: str
    site: str
    organisation: str
    drawn: str
    version: str
    units: str
    cautions: Sequence[tuple[str, str]]


@dataclass
class Page:
    """A sheet being filled."""

    title: str
    units: UnitSystem
    views: list[Placed] = field(default_factory=list)
    pen: Pen = field(default_factory=lambda: Pen(1))

    def put(self, views: Sequence[View], boxes: Sequence[Box], *, alike: bool = False) -> None:
        """Each view in its box. ``alike``: all at the smallest of their scales."""
        fits = [_fit(view, box, self.units) for view, box in zip(views, boxes, strict=True)]
        if alike:
            fits = [max(fits)] * len(fits)
        for view, box, scale in zip(views, boxes, fits, strict=True):
            self._place(view, box, scale)

    def _place(self, view: View, box: Box, scale: int) -> None:
        left, low, right, high = view.margins
        x, y, wide, tall = box
        room_x = wide - (view.wide / scale + left + right)
        room_y = tall - _LABEL - (view.high / scale + low + high)
        at_x = x + left + room_x / 2 - view.core[0] / scale
        at_y = y + _LABEL + low + room_y / 2 - view.core[1] / scale
        pen = Pen(scale)
        view.draw(pen)
        self.views.append(Placed(view, box, scale, at_x, at_y, tuple(pen.things)))
        self._label(view.name, box, scale)

    def _label(self, name: str, box: Box, scale: int) -> None:
        """Name and scale, and a bar that stays true when the sheet is printed smaller."""
        x, y, wide, _ = box
        pen, say = self.pen, Say(self.units)
        pen.text(x + 2, y + 7, said(name), height=HEAD)
        pen.text(x + 2, y + 2, gettext("Scale %(scale)s") % {"scale": scale_text(scale, self.units)})
        unit = _FOOT if self.units is UnitSystem.IMPERIAL else 1000.0
        parts = (1 / 12, 1 / 6, 1 / 2, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
        if self.units is UnitSystem.METRIC:
            parts = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
        long = next((unit * part for part in parts if unit * part / scale >= 20), unit * parts[-1])
        bar = long / scale
        start = x + wide - bar - 14
        pen.rect(Layer.TEXT, start, y + 2, bar, 1.2, Line.THIN)
        pen.rect(Layer.TEXT, start, y + 2, bar / 2, 1.2, Line.SEEN)
        pen.text(start, y + 5, "0", anchor="middle", height=2)
        pen.text(start + bar, y + 5, say.one(long), anchor="middle", height=2)


def _fit(view: View, box: Box, units: UnitSystem) -> int:
    """The largest standard scale at which the view and its margins fit the box."""
    left, low, right, high = view.margins
    wide, tall = box[2] - left - right, box[3] - _LABEL - low - high
    return scale_for(max(view.wide / wide, view.high / tall), units)


def fit_upright(view: View, box: Box, units: UnitSystem) -> int:
    """The same of its height alone."""
    return scale_for(view.high / (box[3] - _LABEL - view.margins[1] - view.margins[3]), units)


def scales_text(page: Page) -> str:
    scales = {placed.scale for placed in page.views}
    return (
        scale_text(scales.pop(), page.units) if len(scales) == 1 else _("at each view") if scales else _("not to scale")
    )


def finished(pages: Sequence[Page], paper: Paper, block: Block) -> list[Sheet]:
    """With frame, cautions, room for a stamp, and title block."""
    sheets = []
    for number, page in enumerate(pages, 1):
        scale = scales_text(page)
        _frame(page.pen, paper)
        _cautions(page.pen, paper, block.cautions)
        _stamp(page.pen, paper)
        _title(
            page.pen,
            paper,
            block,
            page.title,
            scale,
            gettext("%(number)s of %(pages)s") % {"number": number, "pages": len(pages)},
        )
        sheets.append(Sheet(page.title, tuple(page.views), tuple(page.pen.things), scale))
    return sheets


def _frame(pen: Pen, paper: Paper) -> None:
    wide, high = paper.wide - paper.left - paper.edge, paper.high - 2 * paper.edge
    pen.rect(Layer.SHEET, paper.left, paper.edge, wide, high, Line.CUT)
    over = paper.edge + paper.strip
    pen.line(Layer.SHEET, paper.left, over, paper.left + wide, over, Line.SEEN)


def _cautions(pen: Pen, paper: Paper, cautions: Sequence[tuple[str, str]]) -> None:
    room = paper.wide - paper.edge - _BLOCK - _STAMP - paper.left
    y = paper.edge + paper.strip - 5
    for about, words in cautions:
        height = LETTER if about else 2.2
        text = (
            gettext("CAUTION: %(about)s. %(words)s") % {"about": said(about), "words": said(words)}
            if about
            else said(words)
        )
        for line in wrapped(text, room - 4, height):
            pen.text(paper.left + 2, y, line, height=height, layer=Layer.SHEET)
            y -= height * 1.7


def _stamp(pen: Pen, paper: Paper) -> None:
    x = paper.wide - paper.edge - _BLOCK - _STAMP
    pen.rect(Layer.SHEET, x, paper.edge, _STAMP, paper.strip, Line.THIN)
    pen.text(x + 2, paper.edge + paper.strip - 4.5, gettext("Engineer's stamp, where one is asked for"), height=1.8)


def _title(pen: Pen, paper: Paper, block: Block, title: str, scale: str, number: str) -> None:
    left, low = paper.wide - paper.edge - _BLOCK, paper.edge
    pen.rect(Layer.SHEET, left, low, _BLOCK, paper.strip, Line.SEEN)
    rows: list[tuple[float, list[tuple[float, str, str, float]]]] = [
        (13, [(110, gettext("House"), block.house, HEAD), (70, gettext("Sheet"), said(title), HEAD)]),
        (11, [(90, gettext("Site"), block.site, LETTER), (90, gettext("Organisation"), block.organisation, LETTER)]),
        (
            10,
            [
                (46, pgettext("of a drawing", "Scale"), said(scale), LETTER),
                (60, gettext("Paper"), paper.words, LETTER),
                (74, pgettext("of a drawing", "Drawn"), block.drawn, LETTER),
            ],
        ),
        (10, [(106, gettext("Spec drawn from"), block.version, LETTER), (46, gettext("Lengths"), block.units, LETTER)]),
    ]
    rows[3][1].append((28, gettext("Sheet no."), number, HEAD))
    y = low + paper.strip
    for high, cells in rows:
        y -= high
        x = left
        for wide, label, words, largest in cells:
            pen.rect(Layer.SHEET, x, y, wide, high, Line.THIN)
            pen.text(x + 1, y + high - 2.4, label, height=1.5, layer=Layer.SHEET)
            _cell(pen, x + 1, y + 1.2, wide - 2, high - 4, words, largest)
            x += wide


def _cell(pen: Pen, x: float, y: float, wide: float, high: float, words: str, largest: float) -> None:
    """As large as it fits, in as many lines as it takes; nothing is left out."""
    for height in (largest, 2.5, 2.0, 1.8, 1.5, 1.2, 1.0, 0.8):
        lines = wrapped(words, wide, height)
        if height <= largest and len(lines) * height * 1.5 <= high + height * 0.5:
            break
    for at, line in enumerate(reversed(lines)):
        pen.text(x, y + at * height * 1.5, line, height=height, layer=Layer.SHEET)


def column(pen: Pen, box: Box, paragraphs: Sequence[tuple[str, str]], *, height: float = LETTER) -> None:
    """Paragraphs under their headings, from the top of the box; letters shrink until all is in it."""
    x, y, wide, high = box
    for size in (height, 2.2, 2.0, 1.8, 1.5, 1.2, 1.0, 0.8):
        lines = [
            (line, at == 0 and bool(head))
            for head, words in paragraphs
            for at, line in enumerate([*([head] if head else []), *wrapped(words, wide, size), ""])
        ]
        if len(lines) * size * 1.6 <= high:
            break
    top = y + high - size
    for at, (line, head) in enumerate(lines):
        if line:
            pen.text(x, top - at * size * 1.6, line.upper() if head else line, height=size)


def shifted(things: Sequence[Thing], move: Callable[[float, float], tuple[float, float]]) -> list[Thing]:
    """The same things elsewhere."""
    found: list[Thing] = []
    for thing in things:
        if hasattr(thing, "points"):
            found.append(replace(thing, points=tuple((*move(x, y), bulge) for x, y, bulge in thing.points)))
        elif hasattr(thing, "x2"):
            (x1, y1), (x2, y2) = move(thing.x1, thing.y1), move(thing.x2, thing.y2)
            found.append(replace(thing, x1=x1, y1=y1, x2=x2, y2=y2))
        else:
            x, y = move(thing.x, thing.y)
            found.append(replace(thing, x=x, y=y))
    return found
