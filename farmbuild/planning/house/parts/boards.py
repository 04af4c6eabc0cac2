"""Hip and base boards: spliced on hoops only."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from farmbuild.measure import count_noun, join_words
from farmbuild.measure.speech import gettext_noop as _
from farmbuild.measure.speech import joined, sentence
from farmbuild.planning.house.context import HouseContext, SpecContext, SpecProblem
from farmbuild.planning.house.part import NONE, Part, PartWork, WorkKind
from farmbuild.planning.house.spec import HouseSpec
from farmbuild.planning.results import TakeoffRow

_METRES = (_("metre of board"), _("metres of board"))
#: Drawn where the catalogue gives none: a 1-1/2 x 5-1/2 in board.
DRAWN_HEIGHT, DRAWN_BREADTH = Decimal("139.7"), Decimal("38.1")


@dataclass(frozen=True)
class Boards:
    """The boards of one height, on both sides alike; lengths in mm."""

    name: str
    material: str
    rows_a_side: int
    lengths: tuple[Decimal, ...]
    lengths_field: str

    @property
    def rows(self) -> int:
        """Over both sides."""
        return 2 * self.rows_a_side if self.material else 0


def hip_boards(spec: HouseSpec) -> Boards:
    return Boards(
        "hip boards", spec.hip_board_material, spec.hip_board_rows, spec.hip_board_lengths, "hip_board_lengths"
    )


def base_boards(spec: HouseSpec) -> Boards:
    return Boards(
        "base boards", spec.base_board_material, spec.base_board_rows, spec.base_board_lengths, "base_board_lengths"
    )


def both_heights(spec: HouseSpec) -> tuple[Boards, Boards]:
    return hip_boards(spec), base_boards(spec)


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


def rows(house: HouseContext) -> list[TakeoffRow]:
    return [row for boards in both_heights(house.spec) for row in _rows(house, boards)]


def _rows(house: HouseContext, boards: Boards) -> list[TakeoffRow]:
    if not boards.rows:
        return []
    shape, total = house.shape, boards.rows
    run = split_boards(shape.length, shape.bays, boards.lengths)
    parts = " + ".join(str(j) for j in run.bays)
    counts = Counter(zip(run.bays, run.sticks, strict=True))
    out = []
    for (bays, stick), count in sorted(counts.items(), reverse=True):
        length = min(shape.run(bays), stick)
        working = sentence(
            "%(bays)s of %(spacing)s split on hoops as %(parts)s; %(pieces)s over %(bays_2)s, "
            "%(length)s, from a %(stick)s stick; %(rows)s on each side: %(count)s x %(total)s = "
            "%(count_2)s",
            bays=count_noun(shape.bays, "bay"),
            spacing=house.say(shape.spacing),
            parts=parts,
            pieces=count_noun(count, "piece"),
            bays_2=count_noun(bays, "bay"),
            length=house.say(length),
            stick=house.say(stick),
            rows=count_noun(boards.rows_a_side, "row"),
            count=count,
            total=total,
            count_2=count * total,
        )
        out.append(house.pieces(boards.name, boards.material, length, count * total, working))
    return out


def crossings(house: HouseContext) -> int:
    """Places where a board row meets a hoop."""
    return sum(boards.rows for boards in both_heights(house.spec)) * house.shape.hoops


def fits(house: HouseContext) -> Iterator[SpecProblem]:
    shape, say = house.shape, house.say
    for boards in both_heights(house.spec):
        if not boards.rows_a_side:
            continue
        if not boards.lengths:
            yield SpecProblem(
                boards.lengths_field,
                sentence(
                    "Type the board lengths that may be bought, of at least one bay (%(spacing)s).",
                    spacing=say(shape.spacing),
                ),
            )
        elif max(boards.lengths) * shape.bays < shape.length:
            yield SpecProblem(
                boards.lengths_field,
                sentence(
                    "The longest board allowed, %(lengths)s, is shorter than one bay of %(spacing)s, and "
                    "boards are spliced on hoops only. Add a longer board.",
                    lengths=say(max(boards.lengths)),
                    spacing=say(shape.spacing),
                ),
            )


@dataclass(frozen=True)
class BoardPlace:
    """One board in section, on each side alike, mm: lower edge above the ground, height, and breadth outwards."""

    name: str
    bottom: Decimal
    height: Decimal
    breadth: Decimal


def stack_height(house: HouseContext, boards: Boards) -> Decimal:
    """Of the rows of one side, one over the other, mm."""
    if not boards.rows:
        return Decimal(0)
    return boards.rows_a_side * (house.materials[boards.material].width or DRAWN_HEIGHT)


def places(house: HouseContext) -> tuple[BoardPlace, ...]:
    """Hip boards hang from the top of the posts, base boards stand on the ground, one row over the other."""
    found = []
    for boards in both_heights(house.spec):
        if not boards.rows:
            continue
        material = house.materials[boards.material]
        high, broad = material.width or DRAWN_HEIGHT, material.thickness or DRAWN_BREADTH
        for row in range(boards.rows_a_side):
            bottom = row * high if boards.name == "base boards" else house.shape.post_above - (row + 1) * high
            found.append(BoardPlace(boards.name, bottom, high, broad))
    return tuple(found)


def _work(house: HouseContext, boards: Boards) -> tuple[int, str]:
    if not boards.rows:
        return 0, sentence("The house has none.")
    length = house.shape.length
    count, whole = house.in_whole(length * boards.rows)
    return count, sentence(
        "%(rows)s over both sides x %(length)s = %(whole)s",
        rows=count_noun(boards.rows, "row"),
        length=house.say(length),
        whole=whole,
    )


def _hip(house: HouseContext) -> tuple[int, str]:
    return _work(house, hip_boards(house.spec))


def _base(house: HouseContext) -> tuple[int, str]:
    return _work(house, base_boards(house.spec))


def _said(house: SpecContext) -> str:
    """hip boards: 2x6, 8', 12' or 16'; base boards: 2 rows of 2x6, 12'"""
    found = []
    for boards in both_heights(house.spec):
        if boards.rows_a_side:
            many = count_noun(boards.rows_a_side, "row") if boards.rows_a_side > 1 else ""
            name = house.name_of(boards.material)
            lengths = join_words((house.say(length) for length in boards.lengths), "or")
            said = (
                [sentence("%(many)s of %(name)s", many=many, name=name)]
                if many and name
                else [many, name or sentence("no board chosen")]
            )
            found.append(
                sentence(
                    "%(boards)s: %(said)s",
                    boards=sentence(boards.name),
                    said=joined(", ", filter(None, [*said, lengths])),
                )
            )
    return joined("; ", found) or NONE


PART = Part(
    rows=rows,
    purposes={"hip boards": (WorkKind.SAW, WorkKind.HIP), "base boards": (WorkKind.SAW, WorkKind.BASE)},
    fits=fits,
    works=(
        PartWork(WorkKind.HIP, (_("foot of board"), _("feet of board")), _hip, metric=_METRES),
        PartWork(WorkKind.BASE, (_("foot of board"), _("feet of board")), _base, metric=_METRES),
    ),
    said={"Hip and base boards": _said},
)
