"""The yard's rack: what lies there drawn to scale, longest above, the counts as text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from django.utils.safestring import SafeString

from farmbuild.catalogue.models import Material
from farmbuild.common.drawing import SHEET_WIDTH, Drawing
from farmbuild.common.lengths import length_pair
from farmbuild.measure import count_noun
from farmbuild.orgs.models import Organisation
from farmbuild.stock.selectors import Heap, Pile
from farmbuild.stock.words import noun_of

#: Rows of one rack, so that it stays about as high as a phone.
MAX_ROWS = 11
#: Lengths of one heap, where more than one material is drawn.
MAX_LENGTHS = 4
#: Sticks of a pile that are drawn; the rest is in the count.
MAX_STICKS = 5
# Units of the sheet, about one pixel on a phone.
_HEADING, _WORDS, _STICK, _GAP, _FOOT = 20.0, 16.0, 3.6, 6.0, 30.0
_LEFT, _RIGHT = -32.0, 312.0
#: How far a swaged end slides in; drawn thin. Common practice, no source.
_SWAGE_MM = 100.0
_KINDS = Material.Kind.values


def _is_film(row: Heap | Pile) -> bool:
    return row.material.kind == Material.Kind.FILM


def drawn_heaps(heaps: Sequence[Heap]) -> list[Heap]:
    """The heaps that racks have room for: of what comes by length, pipe first, at least a row each."""
    there = [heap for heap in heaps if heap.material.by_length and heap.pieces]
    there.sort(key=lambda heap: _KINDS.index(heap.material.kind))
    sticks = [heap for heap in there if not _is_film(heap)][:MAX_ROWS]
    film = [heap for heap in there if _is_film(heap)][:MAX_ROWS]
    return sticks + film


def all_drawn(piles: Sequence[Pile], heaps: Sequence[Heap]) -> bool:
    """Whether the piles are all that lies in the heaps."""
    return sum(pile.pieces for pile in piles) == sum(heap.pieces for heap in heaps)


def racks(piles: Sequence[Pile], *, organisation: Organisation, href: Callable[[Material], str]) -> list[SafeString]:
    """Sticks and boards on one rack, film on another, each to its own scale; nothing for counted things."""
    there = [pile for pile in piles if pile.length and pile.pieces]
    sticks = [pile for pile in there if not _is_film(pile)]
    film = [pile for pile in there if _is_film(pile)]
    named = [("Sticks and boards", sticks), ("Film", film)]
    return [_rack(title, rows[:MAX_ROWS], organisation, href) for title, rows in named if rows]


def _rack(title: str, piles: list[Pile], organisation: Organisation, href: Callable[[Material], str]) -> SafeString:
    longest = max(pile.length for pile in piles)
    groups = [(material, list(rows)) for material, rows in groupby(piles, key=lambda pile: pile.material)]
    height = sum(_HEADING + sum(map(_row_height, rows)) for _, rows in groups) + _FOOT
    scale = (_RIGHT - _LEFT) / float(longest)
    told = "; ".join(f"{pile.material}: {_words(pile, organisation)}" for pile in piles)
    drawing = Drawing((SHEET_WIDTH - 80) / scale, height / scale, title, f"{told}.")
    left, y = _LEFT / scale, height / scale
    for material, rows in groups:
        label = f"{material}: " + ", ".join(_words(pile, organisation) for pile in rows)
        tops = [y - drawing.mm(_HEADING)]
        for pile in rows:
            tops.append(tops[-1] - drawing.mm(_row_height(pile)))
        for pile, top in zip(rows, tops, strict=False):
            drawing.text(left, top - drawing.mm(_WORDS - 4), _words(pile, organisation), anchor="start")
        # The words lie under the link's area, so that only the name is underlined and all of it leads there.
        with drawing.link(href(material), label):
            drawing.text(left, tops[0] + drawing.mm(4), str(material), "mark", anchor="start")
            for pile, top in zip(rows, tops, strict=False):
                _draw_sticks(drawing, left, top, pile)
        y = tops[-1]
    own, other = length_pair(longest, organisation.unit_system)
    drawing.dimension(left, y, left + float(longest), y, f"{own} ({other})", -drawing.mm(14))
    return drawing.svg()


def _row_height(pile: Pile) -> float:
    return _WORDS + _STICK * min(pile.pieces, MAX_STICKS) + _GAP


def _words(pile: Pile, organisation: Organisation) -> str:
    own, other = length_pair(pile.length, organisation.unit_system)
    what = count_noun(pile.pieces, noun_of(pile.material, offcut=pile.offcut))
    return f"{what} of {own} ({other})"


def _draw_sticks(drawing: Drawing, left: float, top: float, pile: Pile) -> None:
    length = float(pile.length)
    swage = min(_SWAGE_MM, length / 4) if pile.material.swaged and not pile.offcut else 0.0
    end = left + length - swage
    tops = [top - drawing.mm(_WORDS + _STICK * at) for at in range(min(pile.pieces, MAX_STICKS))]
    drawing.path(" ".join(f"M{left} {y} L{end} {y}" for y in tops), "dash" if pile.offcut else "ink")
    if swage:
        drawing.path(" ".join(f"M{end} {y} L{end + swage} {y}" for y in tops), "thin")
