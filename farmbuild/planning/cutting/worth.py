"""What one more piece of each length would cost: the dual values of the pattern program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from farmbuild.planning.cutting.master import LinearProgramFailed, Master, generate
from farmbuild.planning.cutting.patterns import Fillings
from farmbuild.planning.cutting.plan import Piece, Stock
from farmbuild.planning.cutting.problem import Bin, Pattern, make_problem

#: Rounds of the linear program: what is asked here is worth little more time.
MAX_ROUNDS = 300
#: Fillings of one stick that are looked at.
MAX_FILLINGS = 20_000


def piece_values(pieces: Sequence[Piece], stock: Sequence[Stock], *, kerf: int = 0) -> dict[int, Fraction]:
    """By length, in the unit of the sticks' cost: no filling of a stick of unlimited number is worth more than it.

    Empty where the pieces cannot all be cut from the sticks.
    """
    longest = max((stick.length for stick in stock), default=0)
    wanted = [(piece.length + kerf, piece.quantity) for piece in pieces if piece.quantity]
    if not wanted or max(length for length, _ in wanted) > longest + kerf:
        return {}
    bins = [Bin(stick.length + kerf, stick.unit_cost, stick.quantity) for stick in stock]
    problem = make_problem(wanted, bins)
    unit = max(size for size, _ in wanted) // problem.sizes[0]
    master = Master(problem)
    master.add(
        Pattern(b, ((i, min(problem.demand[i], held.capacity // size)),))
        for b, held in enumerate(problem.bins)
        for i, size in enumerate(problem.sizes)
        if size <= held.capacity
    )
    rounds = iter(range(MAX_ROUNDS))
    try:
        relaxed = generate(
            problem, Fillings(problem), master, stop=lambda: next(rounds, None) is None, ceiling=10**18, finish=True
        )
    except LinearProgramFailed:
        return {}
    dual = relaxed.dual
    return {
        size * unit - kerf: Fraction(value, dual.scale)
        for size, value in zip(problem.sizes, dual.values, strict=True)
    }  # fmt: skip


#: (length, how many)
Counts = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Overfull:
    """Pieces by length that are worth more than their stick, and by how much they are too long for it."""

    stick: Stock
    counts: Counts
    over: int
    gain: Fraction


def overfull(
    values: dict[int, Fraction],
    demand: dict[int, int],
    stick: Stock,
    *,
    kerf: int,
    give: dict[int, int],
) -> Iterator[Overfull]:
    """Fillings that would go in, and pay, if each piece were at most ``give[length]`` shorter.

    Without its shortest piece each fits. At most ``MAX_FILLINGS`` are looked at.
    """
    room = stick.length + kerf
    lengths = sorted((length for length in values if length <= stick.length), reverse=True)
    looked = 0

    def go(
        n: int, used: int, worth: Fraction, can_give: int, counts: tuple[tuple[int, int], ...]
    ) -> Iterator[Overfull]:
        nonlocal looked
        looked += 1
        if looked > MAX_FILLINGS:
            return
        if used > room:
            if used - room <= can_give and worth > stick.unit_cost:
                yield Overfull(stick, counts, used - room, worth - stick.unit_cost)
            return
        if n == len(lengths):
            return
        length = lengths[n]
        size, most = length + kerf, demand.get(length, 0)
        for k in range(most + 1):
            now = used + k * size
            taken = (*counts, (length, k)) if k else counts
            yield from go(n + 1, now, worth + k * values[length], can_give + k * give.get(length, 0), taken)
            if now > room:
                break

    yield from go(0, 0, Fraction(0), 0, ())
