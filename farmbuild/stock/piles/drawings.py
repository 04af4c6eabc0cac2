"""One pile drawn: its length a stroke to scale, each piece as it looks from its end.

Held pieces are filled, free ones outlined, those on order dashed; five stand together, twenty in a row, each row in the
hollows of the one below it. Of a large pile a square is a hundred, and what no square has room for is said in words.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from django.utils.safestring import SafeString, mark_safe

from farmbuild.catalogue.models import Material
from farmbuild.common.drawing import Drawing
from farmbuild.stock.piles.selectors import Pile

#: Pieces that are drawn one by one; of more, hundreds are squares.
MAX_PIECES = 300
HUNDRED = 100
#: Squares of held, free and coming pieces each.
MAX_SQUARES = 40
ROW, GROUP = 20, 5
# Units of the sheet, about a pixel on a phone.
WIDTH, LONGEST = 340.0, 300.0
_PITCH, _GAP, _RADIUS, _HIGH = 15.0, 8.0, 6.3, 13.2
_SQUARE, _SQUARE_PITCH = 13.0, 15.0
_STROKE, _BAR = 8.0, 9.0
#: How far a swaged end slides in; drawn thin. Common practice, no source.
_SWAGE_MM = 100.0
#: A board of unknown section is drawn as a 2x6, flat: 38 by 140 mm, nominal sizes of softwood lumber (PS 20).
_BOARD = (140.0, 38.0)
STATES = ("held", "free", "coming")


@dataclass(frozen=True)
class Shares:
    """So many squares of a hundred, single pieces, and pieces that are not drawn."""

    squares: int
    singles: int
    unseen: int = 0


def shares_of(pieces: int, *, all_singles: bool) -> Shares:
    if all_singles:
        return Shares(0, pieces)
    squares, singles = divmod(pieces, HUNDRED)
    if squares > MAX_SQUARES:
        return Shares(MAX_SQUARES, 0, pieces - MAX_SQUARES * HUNDRED)
    return Shares(squares, singles)


def counts_of(pile: Pile) -> dict[str, int]:
    return {"held": pile.held, "free": pile.free, "coming": pile.on_order}


def drawn_shares(pile: Pile) -> dict[str, Shares]:
    """What is drawn of each state."""
    counts = counts_of(pile)
    single = sum(counts.values()) <= MAX_PIECES
    return {state: shares_of(count, all_singles=single) for state, count in counts.items()}


def scale_for(longest: Decimal) -> float:
    """Units a millimetre, where all lengths of a page are on one scale."""
    return LONGEST / float(longest)


def pile_drawing(pile: Pile, *, scale: float, title: str, told: str) -> SafeString:
    """A bar alone for an offcut: how many there are stands beside it in words."""
    if pile.offcut:
        drawing = Drawing(WIDTH / scale, _BAR / scale, title, told, scale=scale)
        _draw_bar(drawing, pile)
        return drawing.svg()
    shares = drawn_shares(pile)
    squares = [state for state in STATES for _ in range(shares[state].squares)]
    singles = [state for state in STATES for _ in range(shares[state].singles)]
    rise = _rise(pile.material)
    square_rows, rows = -(-len(squares) // ROW), -(-len(singles) // ROW)
    height = _STROKE + square_rows * _SQUARE_PITCH + rows * rise + 2
    drawing = Drawing(WIDTH / scale, height / scale, title, told, scale=scale)
    _draw_stroke(drawing, pile, height)
    top = height - _STROKE
    sections = (("hundred", _SQUARE, _SQUARE), ("end", *_section(pile.material)))
    for (sign, wide, high), states, step in zip(sections, (squares, singles), (_SQUARE_PITCH, rise), strict=True):
        if states:
            shape = sign if sign == "hundred" else pile.material.kind
            marks = "".join(_mark(shape, wide, high, step, at, state) for at, state in enumerate(states))
            rows_high = -(-len(states) // ROW) * step
            drawing.placed(0, drawing.mm(top), WIDTH, rows_high, mark_safe(marks))
            top -= rows_high
    return drawing.svg()


@lru_cache(maxsize=16384)
def _mark(shape: str, wide: float, high: float, step: float, at: int, state: str) -> str:
    """The piece of that number in its pile, seen from its end; the same in every pile, so made once."""
    row, along = divmod(at, ROW)
    leaning = shape not in ("hundred", Material.Kind.LUMBER, Material.Kind.CHANNEL) and row % 2
    x = along * _PITCH + (along // GROUP) * _GAP + _PITCH / 2 + (_PITCH / 2 if leaning else 0)
    y = row * step + step / 2
    left, up = _round(x - wide / 2), _round(y - high / 2)
    if shape == Material.Kind.CHANNEL:
        # Open above, as it is fixed to the board.
        right, low = _round(x + wide / 2), _round(y + high / 2)
        return f'<polyline class="end {state}" points="{left},{up} {left},{low} {right},{low} {right},{up}"/>'
    if shape in ("hundred", Material.Kind.LUMBER):
        css = "hundred" if shape == "hundred" else "end"
        return f'<rect class="{css} {state}" x="{left}" y="{up}" width="{_round(wide)}" height="{_round(high)}"/>'
    circle = f'<circle class="end {state}" cx="{_round(x)}" cy="{_round(y)}" r="{_round(wide / 2)}"/>'
    core = f'<circle class="core" cx="{_round(x)}" cy="{_round(y)}" r="2"/>'
    return circle + core if shape == Material.Kind.FILM else circle


def _round(value: float) -> str:
    """For SVG: to a hundredth of a unit."""
    return str(round(value, 2))


def _section(material: Material) -> tuple[float, float]:
    """Units wide and high, lying flat; a board in its own proportion."""
    if material.kind == Material.Kind.CHANNEL:
        return 2 * _RADIUS, 8.0
    if material.kind != Material.Kind.LUMBER:
        return 2 * _RADIUS, 2 * _RADIUS
    wide, high = (float(material.width or 0), float(material.thickness or 0))
    wide, high = (max(wide, high), min(wide, high)) if wide and high else _BOARD
    return 2 * _RADIUS, max(3.5, 2 * _RADIUS * high / wide)


def _rise(material: Material) -> float:
    return _HIGH if material.kind != Material.Kind.LUMBER else _section(material)[1] + 3.5


def _draw_stroke(drawing: Drawing, pile: Pile, height: float) -> None:
    if pile.length is None:
        return
    length, y = float(pile.length), drawing.mm(height - 2)
    swage = min(_SWAGE_MM, length / 4) if pile.material.swaged else 0.0
    drawing.line(0, y, length - swage, y, "stroke")
    if swage:
        drawing.line(length - swage, y, length, y, "stroke swage")


def _draw_bar(drawing: Drawing, pile: Pile) -> None:
    """Filled as far up as the offcuts are held."""
    length, high = float(pile.length or 0), drawing.mm(_BAR)
    drawing.rect(0, 0, length, high, "cut-off")
    if pile.held:
        drawing.rect(0, 0, length, high * pile.held / pile.there, "cut-off held")
