"""How one stick is cut: where each piece lies, what the saw takes, what is left, and who bears what it cost.

Lengths are whole nanometres (a stored length has six places of a millimetre), costs whole ten-thousandths, so that
every sum here is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

_NM = Decimal(10) ** 6
#: The last place of a lot's cost of one.
COST_STEP = Decimal("0.0001")


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
    """``each`` equal things out of every stick: length in nm, cost of one."""

    length: int
    each: int
    cost: Decimal
    offcut: bool


def share_cost(layout: Layout, unit_cost: Decimal) -> list[Part]:
    """The stick's cost over pieces and offcut by length: their costs add up to it exactly.

    Each has its share rounded down to the last place; what is missing then is given out by the largest remainder, to
    equal pieces all at once while it goes round, so that they stay one lot, and else one step a piece.
    """
    lengths: dict[int, int] = {}
    for piece in layout.pieces:
        lengths[piece] = lengths.get(piece, 0) + 1
    groups = [(length, each, False) for length, each in lengths.items()]
    groups += [(layout.offcut, 1, True)] if layout.offcut else []
    steps = int(unit_cost / COST_STEP)
    over = sum(length * each for length, each, _ in groups)
    floors = [steps * length // over for length, _, _ in groups]
    missing = steps - sum(floor * each for floor, (_, each, _) in zip(floors, groups, strict=True))
    by_remainder = sorted(range(len(groups)), key=lambda at: (-(steps * groups[at][0] % over), at))
    more = [0] * len(groups)
    for at in by_remainder:
        if groups[at][1] <= missing:
            more[at] = groups[at][1]
            missing -= more[at]
    for at in by_remainder:
        given = min(missing, groups[at][1] - more[at])
        more[at] += given
        missing -= given
    parts = []
    for (length, each, offcut), floor, extra in zip(groups, floors, more, strict=True):
        parts += [Part(length, extra, (floor + 1) * COST_STEP, offcut)] if extra else []
        parts += [Part(length, each - extra, floor * COST_STEP, offcut)] if each > extra else []
    return parts
