"""How one stick is cut: where each piece lies, what the saw takes, what is left, and who bears what it cost.

Lengths are whole nanometres (a stored length has six places of a millimetre), so that every sum here is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

_NM = Decimal(10) ** 6


def to_nm(length: Decimal) -> int:
    """Millimetres with at most six places as whole nanometres."""
    return int(length * _NM)


def to_mm(nanometres: int) -> Decimal:
    return Decimal(nanometres) / _NM


class LayoutError(ValueError):
    """The pieces cannot come out of the stick; the sentence stands for the user but for lengths, which are in mm."""

    def __init__(self, over: Decimal) -> None:
        super().__init__(f"{over} mm too long")
        self.over = over


@dataclass(frozen=True)
class Layout:
    """One stick from the left: ``pieces`` in their order, then the offcut or the scrap. Nanometres."""

    stick: int
    pieces: tuple[int, ...]
    kerf: int
    kerfs: int
    offcut: int
    scrap: int


def lay_out(*, stick: Decimal, pieces: Sequence[Decimal], kerf: Decimal, keep_from: Decimal, keep: bool) -> Layout:
    """Pieces one after the other with a saw cut between them, and one more where something is left behind the last.

    Lengths in mm. What is left is kept from ``keep_from`` on, or with ``keep``; else it is scrap, and so is a sliver
    no wider than the saw. Raises LayoutError where the pieces do not fit.
    """
    whole, saw = to_nm(stick), to_nm(kerf)
    lengths = tuple(to_nm(piece) for piece in pieces)
    left = whole - sum(lengths) - saw * (len(lengths) - 1)
    if left < 0:
        raise LayoutError(to_mm(-left))
    if left == 0:
        return Layout(whole, lengths, saw, len(lengths) - 1, 0, 0)
    if left <= saw:
        # The last cut ends the stick and turns the sliver to dust.
        return Layout(whole, lengths, saw, len(lengths) - 1, 0, left)
    rest = left - saw
    kept = keep or rest >= to_nm(keep_from)
    return Layout(whole, lengths, saw, len(lengths), rest if kept else 0, 0 if kept else rest)


@dataclass(frozen=True)
class Part:
    """``each`` equal things out of every stick, lengths in nm; together they bear ``weight`` of what it cost."""

    length: int
    each: int
    offcut: bool
    weight: Decimal


def parts_of(layout: Layout) -> list[Part]:
    """What comes out of a stick, equal pieces together, and the kept end last.

    The kept end bears its length of the stick. Scrap and saw waste are borne by the pieces, by their length: they were
    made for them, and go where these go.
    """
    lengths: dict[int, int] = {}
    for piece in layout.pieces:
        lengths[piece] = lengths.get(piece, 0) + 1
    made = sum(layout.pieces)
    borne = layout.stick - layout.offcut
    parts = [Part(length, each, False, Decimal(length * each * borne)) for length, each in lengths.items()]
    return parts + ([Part(layout.offcut, 1, True, Decimal(layout.offcut * made))] if layout.offcut else [])
