"""The lines of a sheet as SVG, 1 unit to the millimetre of paper, and its words with their places beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from farmbuild.drawings.pen import (
    BREADTH,
    CLOSEST,
    LETTER,
    Bar,
    Layer,
    Line,
    Round,
    Size,
    Stroke,
    Thing,
    Words,
    breadth_of,
)
from farmbuild.drawings.scales import Paper
from farmbuild.drawings.sheets import Placed, Sheet, shifted

_DASHES = {Line.HIDDEN: "3 1.5", Line.CENTRE: "8 1.5 0.6 1.5"}
#: mm of paper: half a tick of a dimension, what its lines go past, how far its words stand off.
_TICK, _PAST, _CLEAR = 1.0, 1.5, 1.4


def lines_and_words(sheet: Sheet, paper: Paper) -> tuple[str, list[Words]]:
    """SVG of the lines, and the words; x and y of these in mm of paper from the lower left corner."""
    lines, words = drawn_on(sheet)
    by_line = {line: [_d(one, paper) for one in lines if one.line is line] for line in Line}
    paths = "".join(
        f'<path d="{"".join(found)}" stroke-width="{BREADTH[line]}"'
        f'{f""" stroke-dasharray="{_DASHES[line]}" """ if line in _DASHES else ""}/>'
        for line, found in by_line.items()
        if found
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {paper.wide} {paper.high}"'
        f' width="{paper.wide}mm" height="{paper.high}mm">'
        f'<g fill="none" stroke="#000" stroke-linejoin="round">{paths}</g></svg>'
    )
    return svg, words


def drawn_on(sheet: Sheet) -> tuple[list[Stroke | Round], list[Words]]:
    """Every line and every word of a sheet, mm of paper from the lower left corner."""
    lines: list[Stroke | Round] = []
    words: list[Words] = []
    for things in (sheet.paper, *(_on_paper(placed) for placed in sheet.views)):
        for thing in things:
            _sort(thing, lines, words)
    return lines, words


def _on_paper(placed: Placed) -> list[Thing]:
    scale = placed.scale
    things = shifted(placed.things, lambda x, y: (placed.x + x / scale, placed.y + y / scale))
    return [_reduced(thing, scale) for thing in things]


def _reduced(thing: Thing, scale: float) -> Thing:
    """Its breadth and radius as they are on paper; a bar too thin for two lines is one."""
    if isinstance(thing, Bar):
        small = Bar(thing.layer, thing.points, thing.breadth / scale, thing.line, thing.centred)
        if small.breadth < CLOSEST:
            return small.centre(Line.SEEN if thing.line is Line.CUT else thing.line)
        return small
    if isinstance(thing, Round):
        return Round(thing.layer, thing.x, thing.y, thing.radius / scale, thing.line)
    return thing


def _sort(thing: Thing, lines: list[Stroke | Round], words: list[Words]) -> None:
    match thing:
        case Bar():
            lines.append(thing.outline())
            if thing.centred:
                lines.append(thing.centre(Line.CENTRE))
        case Words():
            words.append(thing)
        case Size():
            for part in _dimension(thing):
                (words if isinstance(part, Words) else lines).append(part)
        case _:
            lines.append(thing)


def _dimension(size: Size) -> Iterator[Stroke | Words]:
    """Extension lines, the line with its ticks, and words over it. All mm of paper."""
    dx, dy = size.x2 - size.x1, size.y2 - size.y1
    length = math.hypot(dx, dy)
    ux, uy = (dx / length, dy / length) if length else (1.0, 0.0)
    # To the left of the way.
    nx, ny = -uy, ux
    side = 1 if size.off > 0 else -1
    ends = [(size.x1 + nx * size.off, size.y1 + ny * size.off), (size.x2 + nx * size.off, size.y2 + ny * size.off)]

    def stroke(x1: float, y1: float, x2: float, y2: float) -> Stroke:
        return Stroke(Layer.DIMENSIONS, ((x1, y1, 0.0), (x2, y2, 0.0)), line=Line.THIN)

    for (x, y), (ex, ey) in zip(((size.x1, size.y1), (size.x2, size.y2)), ends, strict=True):
        if abs(size.off) > _CLEAR:
            yield stroke(x + nx * side * _CLEAR, y + ny * side * _CLEAR, ex + nx * side * _PAST, ey + ny * side * _PAST)
        tx, ty = (ux + nx) * _TICK, (uy + ny) * _TICK
        yield Stroke(Layer.DIMENSIONS, ((ex - tx, ey - ty, 0.0), (ex + tx, ey + ty, 0.0)), line=Line.SEEN)
    (x1, y1), (x2, y2) = ends
    yield stroke(x1 - ux * _PAST, y1 - uy * _PAST, x2 + ux * _PAST, y2 + uy * _PAST)
    upright, fits = abs(dy) > abs(dx), breadth_of(size.text) <= length
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    if upright and not fits:
        # Level, on the far side of its line.
        out, anchor = (-_CLEAR, "end") if nx * side < 0 else (_CLEAR, "start")
        yield Words(Layer.DIMENSIONS, middle[0] + out, middle[1] - LETTER / 2, size.text, LETTER, anchor)
    elif not fits:
        yield Words(Layer.DIMENSIONS, max(x1, x2) + _PAST + _CLEAR, y1 + _CLEAR, size.text, LETTER, "start")
    elif upright:
        yield Words(Layer.DIMENSIONS, middle[0] - _CLEAR, middle[1], size.text, LETTER, "middle", turned=True)
    else:
        yield Words(Layer.DIMENSIONS, middle[0], middle[1] + _CLEAR, size.text, LETTER, "middle")


def _d(thing: Stroke | Round, paper: Paper) -> str:
    high = paper.high
    if isinstance(thing, Round):
        r, x, y = thing.radius, thing.x, high - thing.y
        return f"M{_n(x - r)} {_n(y)}a{_n(r)} {_n(r)} 0 1 0 {_n(2 * r)} 0a{_n(r)} {_n(r)} 0 1 0 {_n(-2 * r)} 0z"
    parts = [f"M{_n(thing.points[0][0])} {_n(high - thing.points[0][1])}"]
    following: Sequence[tuple[float, float, float]] = thing.points[1:]
    if thing.closed and thing.points[-1][2]:
        following = (*following, thing.points[0])
    for (x1, y1, bulge), (x2, y2, _) in zip(thing.points, following, strict=False):
        if bulge:
            turn = 4 * math.atan(abs(bulge))
            radius = math.hypot(x2 - x1, y2 - y1) / (2 * math.sin(turn / 2))
            parts.append(
                f"A{_n(radius)} {_n(radius)} 0 {int(turn > math.pi)} {int(bulge < 0)} {_n(x2)} {_n(high - y2)}"
            )
        else:
            parts.append(f"L{_n(x2)} {_n(high - y2)}")
    return "".join(parts) + ("z" if thing.closed else "")


def _n(value: float) -> str:
    return str(round(value, 4)).removesuffix(".0")
