"""Hip and base boards: spliced on hoops only."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun
from farmbuild.planning.house.context import Work
from farmbuild.planning.results import TakeoffRow


@dataclass(frozen=True)
class BoardRun:
    """One row of boards: how many bays each piece covers, in order, and the stick each is bought as."""

    bays: tuple[int, ...]
    sticks: tuple[Decimal, ...]

    @property
    def bought(self) -> Decimal:
        return sum(self.sticks, Decimal(0))


def split_boards(length: Decimal, bays: int, sticks: Sequence[Decimal]) -> BoardRun:
    """Split a run over ``bays`` equal bays into pieces that each end on a hoop.

    One stick a piece, the shortest allowed that holds it. Least bought length first, then fewest pieces, then
    the longest pieces first. Raises ValueError when no stick spans a bay. Exact, by dynamic programming.
    """
    allowed = sorted({s for s in sticks if s * bays >= length})
    if not allowed:
        raise ValueError("no allowed stick is as long as one bay")
    reach = min(bays, max(int(allowed[-1] * bays // length), 1))
    stick_for = [Decimal(0)]
    k = 0
    for j in range(1, reach + 1):
        while allowed[k] * bays < length * j:
            k += 1
        stick_for.append(allowed[k])
    # Only the most bays that a stick can hold need trying, and whatever finishes the run.
    tries = sorted({max(j for j in range(1, reach + 1) if stick_for[j] == s) for s in stick_for[1:]})
    best: list[tuple[Decimal, int, int]] = [(Decimal(0), 0, 0)]
    for done in range(1, bays + 1):
        options = {min(j, done) for j in tries}
        best.append(min((best[done - j][0] + stick_for[j], best[done - j][1] + 1, -j) for j in options))
    pieces = []
    left = bays
    while left:
        pieces.append(-best[left][2])
        left -= pieces[-1]
    pieces.sort(reverse=True)
    return BoardRun(tuple(pieces), tuple(stick_for[j] for j in pieces))


def board_rows(work: Work, purpose: str, material: str, each_side: int, sticks: Sequence[Decimal]) -> list[TakeoffRow]:
    if not (material and each_side):
        return []
    shape = work.shape
    run = split_boards(shape.length, shape.bays, sticks)
    rows = 2 * each_side
    parts = " + ".join(str(j) for j in run.bays)
    counts = Counter(zip(run.bays, run.sticks, strict=True))
    out = []
    for (bays, stick), count in sorted(counts.items(), reverse=True):
        length = min(work.saw(shape.run(bays)), stick)
        working = (
            f"{count_noun(shape.bays, 'bay')} of {work.say(shape.spacing)} split on hoops as {parts};"
            f" {count_noun(count, 'piece')} over {count_noun(bays, 'bay')}, {work.say(length)}, from a"
            f" {work.say(stick)} stick; {count_noun(each_side, 'row')} on each side: {count} x {rows} = {count * rows}"
        )
        out.append(work.pieces(purpose, material, length, count * rows, working))
    return out


def boards(work: Work) -> list[TakeoffRow]:
    spec = work.spec
    return [
        *board_rows(work, "hip boards", spec.hip_board_material, spec.hip_board_rows, spec.hip_board_lengths),
        *board_rows(work, "base boards", spec.base_board_material, spec.base_board_rows, spec.base_board_lengths),
    ]


def board_crossings(work: Work) -> int:
    """Places where a board row meets a hoop."""
    spec = work.spec
    hip = spec.hip_board_rows if spec.hip_board_material else 0
    base = spec.base_board_rows if spec.base_board_material else 0
    return 2 * (hip + base) * work.shape.hoops
